// Run as a program of its own by the tests: starts the embedded Postgres, says where, and stays until it is ended.
import { startEmbeddedPostgres } from '../../src/embedded/postgres.ts'

const directory = process.argv[2]
const server = await startEmbeddedPostgres(directory === undefined ? {} : { directory })
console.log(JSON.stringify(server))
setInterval(() => {}, 60_000)
