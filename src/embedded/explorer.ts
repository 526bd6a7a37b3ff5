/** The explorer of the GraphQL face: one page with all its script and style in it, that asks this service and nobody else. */
import { createHash } from 'node:crypto'
import { renderGraphiQL } from '@graphql-yoga/render-graphiql'

const QUERY = `# Paste a token into the tab "Headers" below:
#
#   {"authorization": "Bearer TOKEN"}
#
# then press "Re-fetch GraphQL schema" on the left. A token of the development issuer, for a member of a clinic:
#
#   npm run -s limb-ledger -- mint-token --help
#
# Every query is an event in the audit log of the clinic, as any other.

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
    subscriptionsProtocol: 'WS',
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
