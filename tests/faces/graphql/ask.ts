/** GraphQL over the real HTTP stack of a test service. */
import type { Answer, TestService } from '../../harness/clinic.ts'

export interface Told {
  readonly message: string
  readonly path?: readonly (string | number)[]
  readonly extensions: { readonly code: string; readonly problem: { readonly code: string; readonly errors?: readonly { pointer: string; code: string }[] } } // prettier-ignore
}

export interface GraphqlAnswer {
  readonly data?: any // eslint-disable-line @typescript-eslint/no-explicit-any
  readonly errors?: readonly Told[]
}

export interface Ask {
  (query: string, variables?: Record<string, unknown>, headers?: Record<string, string>): Promise<Answer<GraphqlAnswer>>
}

export const asker =
  (service: TestService, token: string | null): Ask =>
  (query, variables, headers = {}) =>
    service.api(token).post('/graphql', { query, ...(variables === undefined ? {} : { variables }) }, { key: null, headers }) // prettier-ignore

/** The data of an answer without errors. */
export async function dataOf(answer: Promise<Answer<GraphqlAnswer>>) {
  const { body, status } = await answer
  if (status !== 200 || body.errors !== undefined) throw new Error(`${status} ${JSON.stringify(body.errors ?? body)}`)
  return body.data
}
