import pg from 'pg'

/** How many statements this process sent to Postgres while the work was done, begin, commit and settings among them. */
export async function countStatements<T>(work: () => Promise<T>): Promise<{ statements: number; result: T }> {
  const { prototype } = pg.Client as unknown as { prototype: { query: (...args: unknown[]) => unknown } }
  const query = prototype.query
  let statements = 0
  prototype.query = function (...args) {
    statements += 1
    return query.apply(this, args)
  }
  try {
    const result = await work()
    return { statements, result }
  } finally {
    prototype.query = query
  }
}
