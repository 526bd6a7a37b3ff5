import { validate as isUuid } from 'uuid'
import { AppError } from '../../domain/errors.ts'

export interface Page<T> {
  readonly items: readonly T[]
  readonly nextCursor: string | null
}

export interface PageRequest {
  readonly limit: number
  /** Id of the last item seen, since ids grow with time (UUIDv7); null: from the start. */
  readonly after: string | null
}

/** A cursor says where the last page ended and nothing else: row-level security decides what follows it. */
export function pageRequest(query: { limit?: number | undefined; cursor?: string | undefined }): PageRequest {
  return { limit: query.limit ?? 50, after: query.cursor === undefined ? null : decodeCursor(query.cursor) }
}

/** Stores fetch one row more than asked for; its presence says that there is a next page. */
export function pageOf<T extends { id: string }>(rows: readonly T[], { limit }: PageRequest): Page<T> {
  const items = rows.slice(0, limit)
  const last = items.at(-1)
  return { items, nextCursor: rows.length > limit && last !== undefined ? cursorOf(last.id) : null }
}

/** The cursor that stands after an item. */
export const cursorOf = (id: string): string => Buffer.from(`v1:${id}`).toString('base64url')

function decodeCursor(cursor: string): string {
  const [version, id] = Buffer.from(cursor, 'base64url').toString('utf8').split(':')
  if (version !== 'v1' || id === undefined || !isUuid(id)) throw new AppError('invalid_cursor')
  return id
}
