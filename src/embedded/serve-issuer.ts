import { createServer, type Server } from 'node:http'
import type { EmbeddedIssuer } from './issuer.ts'

/** Public keys over HTTP, for a service in another container. It signs nothing for whoever asks. */
export async function serveIssuer(issuer: EmbeddedIssuer, address: { host: string; port: number }): Promise<Server> {
  const server = createServer((request, response) => {
    if (request.method !== 'GET' || request.url !== '/jwks.json') {
      response.writeHead(404).end()
      return
    }
    issuer.publicKeys().then(
      (keys) => response.writeHead(200, { 'Content-Type': 'application/jwk-set+json' }).end(keys),
      () => response.writeHead(500).end(),
    )
  })
  await new Promise<void>((settle, fail) => server.once('error', fail).listen(address.port, address.host, settle))
  return server
}
