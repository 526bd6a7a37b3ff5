import pg from 'pg'

/** One connection for an operator's work, always closed. Not for requests: those go through the pool and withClinic. */
export async function withClient<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({
    connectionString: url,
    connectionTimeoutMillis: 10_000,
    application_name: 'limb-ledger',
  })
  // A connection cut between two queries; the next query reports it.
  client.on('error', () => {})
  await client.connect()
  try {
    return await work(client)
  } finally {
    await client.end()
  }
}
