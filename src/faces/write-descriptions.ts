/** npm run openapi:write. Builds the app to read its routes; no route runs, so nothing stands behind it. */
import { writeFile } from 'node:fs/promises'
import { printSchema } from 'graphql'
import { buildApp, type AppDeps } from '../app.ts'
import { makeSchema } from './graphql/schema.ts'
import { errorDocs } from './rest/error-docs.ts'

const absent = new Proxy({}, { get: (_, name) => () => Promise.reject(new Error(`${String(name)} is not there`)) })

/** The committed texts, the same on every machine. */
export async function describeApp(): Promise<
  Readonly<Record<'openapi.json' | 'errors.md' | 'schema.graphql', string>>
> {
  const app = await buildApp({
    db: absent as AppDeps['db'],
    pool: absent as AppDeps['pool'],
    teamDb: absent as AppDeps['teamDb'],
    reportKeys: absent as AppDeps['reportKeys'],
    verify: () => Promise.reject(new Error('no token is read here')),
    clock: () => new Date(),
    ledger: null,
    subjectKeys: absent as AppDeps['subjectKeys'],
    announcements: absent as AppDeps['announcements'],
    graphql: { introspection: true, persisted: null, explorer: null },
    http: { logLevel: 'silent' },
  })
  await app.ready()
  const document = app.swagger()
  await app.close()
  return {
    'openapi.json': `${JSON.stringify(document, null, 2)}\n`,
    'errors.md': errorDocs(),
    'schema.graphql': `${printSchema(makeSchema())}\n`,
  }
}

if (import.meta.main) {
  for (const [name, text] of Object.entries(await describeApp()))
    await writeFile(new URL(`../../openapi/${name}`, import.meta.url), text)
}
