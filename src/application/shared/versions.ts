import { AppError } from '../../domain/errors.ts'

/** A strong ETag is the row's version. */
export const etagOf = (version: number): string => `"${version}"`

/** Edits name the version they edit: 428 without, 412 when it is not the one in force. */
export function requireVersion(ifMatch: string | undefined, current: number): void {
  if (ifMatch === undefined) throw new AppError('version_required')
  if (ifMatch !== etagOf(current)) {
    throw new AppError('stale_version', {
      detail: `The version in force is ${current}.`,
      extra: { currentVersion: current },
    })
  }
}
