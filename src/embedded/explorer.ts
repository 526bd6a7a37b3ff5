/** The explorer of the GraphQL face: one page with all its script and style in it, that asks this service and nobody else. */
import { createHash } from 'node:crypto'
import { renderGraphiQL } from '@graphql-yoga/render-graphiql'

const QUERY = `# Paste a token into "Headers" below:
#
#   {"authorization": "Bearer TOKEN"}
#
# and press "Re-fetch GraphQL schema", left.
# A token of the development issuer:
#
#   npm run limb-ledger -- mint-token --help
#
# Each query is an event in the audit log.
# Subscriptions need a client that sends the
# token with connection_init: see README.

query Explorer {
  subjects(first: 5) {
    edges {
      node {
        id
        birthDate
        episodes {
          joint
          involvedSide
        }
      }
    }
  }
}
`

export function explorerPage(): { readonly html: string; readonly policy: string } {
  const html = renderGraphiQL({
    title: 'Limb Ledger: GraphQL',
    endpoint: '/graphql',
    defaultQuery: QUERY,
    defaultEditorToolsVisibility: 'headers',
    shouldPersistHeaders: false,
  })
  const scripts = [...html.matchAll(/<script>([\s\S]*?)<\/script>/g)].map(([, text = '']) => sourceOf(text))
  const policy = [
    "default-src 'none'",
    `script-src ${scripts.join(' ')}`,
    // The editor checks what is typed in workers that the page makes of its own text, and styles its lines as it draws them.
    'worker-src blob:',
    "style-src 'unsafe-inline'",
    'img-src data:',
    'font-src data:',
    "connect-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; ')
  return { html, policy }
}

const sourceOf = (script: string): string => `'sha256-${createHash('sha256').update(script).digest('base64')}'`
