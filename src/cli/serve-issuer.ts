import { once } from 'node:events'
import { runCommand, UsageError } from './admin.ts'

const HELP = `Usage: limb-ledger serve-issuer [--host 127.0.0.1] [--port 8090]

Serves the public keys of the embedded issuer at /jwks.json until it is told to stop: for a service in another
container on a development machine. Refused in production.`

export const run = (argv: readonly string[]): Promise<number> =>
  runCommand(argv, { name: 'serve-issuer', help: HELP, options: ['host', 'port'] }, async (options, config) => {
    const port = Number(options.maybe('port') ?? 8090)
    if (!Number.isInteger(port) || port < 0 || port > 65_535)
      throw new UsageError('--port wants a number from 0 to 65535.')
    const { embeddedIssuerOf } = await import('../embedded/machine.ts')
    const { serveIssuer } = await import('../embedded/serve-issuer.ts')
    const issuer = await embeddedIssuerOf(config())
    const server = await serveIssuer(issuer, { host: options.maybe('host') ?? '127.0.0.1', port })
    console.error(`Development issuer ${issuer.issuer}: keys on ${JSON.stringify(server.address())}`)
    await Promise.race([once(process, 'SIGTERM'), once(process, 'SIGINT')])
    server.close()
    server.closeAllConnections()
    return 'stopped'
  })
