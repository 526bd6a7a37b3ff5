import { existsSync } from 'node:fs'
import { startEmbeddedPostgres } from '../../src/embedded/postgres.ts'

export interface ChosenPostgres {
  readonly adminUrl: string
  /** For the one line that says where the tests ran. */
  readonly described: string
  /** Absent for a server that was there before us. */
  readonly stop?: () => Promise<void>
}

const IMAGE = 'postgres:18-alpine'
const DOCKER_LIMIT_MS = 20_000

/** A server of the developer's choice, else a container where that costs no download, else the embedded one. */
export async function choosePostgres(): Promise<ChosenPostgres> {
  const given = process.env['TEST_DATABASE_URL']
  if (given !== undefined && given !== '') return { adminUrl: given, described: 'the server of TEST_DATABASE_URL' }
  return (await startContainer()) ?? startEmbedded()
}

async function startEmbedded(): Promise<ChosenPostgres> {
  const server = await startEmbeddedPostgres({ settings: { max_connections: '200' } })
  return {
    adminUrl: server.adminUrl,
    described: `embedded on port ${server.port}`,
    stop: () => server.stop(),
  }
}

async function startContainer(): Promise<ChosenPostgres | null> {
  try {
    if (!(await dockerHasImage())) return null
    const { PostgreSqlContainer } = await import('@testcontainers/postgresql')
    const container = await new PostgreSqlContainer(IMAGE).withDatabase('limb_ledger').start()
    return {
      adminUrl: container.getConnectionUri(),
      described: `${IMAGE} in a container`,
      stop: async () => {
        await container.stop()
      },
    }
  } catch (error) {
    console.error(`No container for the tests: ${error instanceof Error ? error.message : String(error)}`)
    return null
  }
}

async function dockerHasImage(): Promise<boolean> {
  // Asked first, because loading the container library takes a second that most runs would spend for nothing.
  if (process.env['DOCKER_HOST'] === undefined && !existsSync('/var/run/docker.sock')) return false
  const ask = async () => {
    const { getContainerRuntimeClient, ImageName } = await import('testcontainers')
    const runtime = await getContainerRuntimeClient()
    return runtime.image.exists(ImageName.fromString(IMAGE))
  }
  // A daemon that hangs answers nothing at all, so the wait is ended from here.
  const limit = new Promise<false>((settle) => setTimeout(settle, DOCKER_LIMIT_MS, false).unref())
  return Promise.race([ask(), limit])
}
