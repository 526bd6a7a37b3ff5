/** The first lock: the only maker of a ClinicTx. A store function that asks for one can't be called without tenancy. */
import { AppError } from '../domain/errors.ts'
import { Prisma } from '../store/generated/client.ts'
import type { ClinicActor } from './actor.ts'
import type { Database } from './database.ts'

declare const clinicTx: unique symbol

/** A transaction in which row-level security shows the rows of one clinic and no others. */
export type ClinicTx = Prisma.TransactionClient & { readonly [clinicTx]: true; readonly clinicId: string }

export async function withClinic<T>(
  db: Database,
  actor: Pick<ClinicActor, 'clinicId'>,
  work: (tx: ClinicTx) => Promise<T>,
): Promise<T> {
  const transaction = () =>
    db.unsafeClient.$transaction(
      async (tx) => {
        await tx.$queryRaw`select set_config('app.clinic_id', ${actor.clinicId}, true)`
        // Defined, not assigned: an assignment would pass through the client's proxy into an object that all transactions
        // share, and the last of them would decide the clinic of every other.
        return await work(Object.create(tx, { clinicId: { value: actor.clinicId } }) as ClinicTx)
      },
      { maxWait: 1_000, timeout: 10_000 },
    )
  try {
    return await (db.inTurn?.(transaction) ?? transaction())
  } catch (error) {
    throw asDatabaseError(error)
  }
}

/** What the driver threw at BEGIN, COMMIT or ROLLBACK, which the client hands on as it is. */
interface DriverError extends Error {
  readonly cause: { readonly kind?: unknown; readonly originalCode?: unknown }
}
const isDriverError = (error: unknown): error is DriverError =>
  error instanceof Error && error.name === 'DriverAdapterError' && typeof error.cause === 'object'

/** PostgreSQL's own code where the driver adapter passed one on. */
export function sqlState(error: unknown): string | undefined {
  if (isDriverError(error)) return typeof error.cause.originalCode === 'string' ? error.cause.originalCode : undefined
  if (!(error instanceof Prisma.PrismaClientKnownRequestError)) return undefined
  const meta = error.meta as { code?: unknown; driverAdapterError?: { cause?: { originalCode?: unknown } } } | undefined
  const code = meta?.driverAdapterError?.cause?.originalCode ?? meta?.code
  return typeof code === 'string' ? code : undefined
}

/** Another transaction wrote the same key first. */
export function isUniqueViolation(error: unknown): boolean {
  if (!(error instanceof Prisma.PrismaClientKnownRequestError)) return false
  return error.code === 'P2002' || sqlState(error) === '23505'
}

/** A row that this one points at was removed meanwhile. */
export function isForeignKeyViolation(error: unknown): boolean {
  if (!(error instanceof Prisma.PrismaClientKnownRequestError)) return false
  return error.code === 'P2003' || sqlState(error) === '23503'
}

const AWAY = ['DatabaseNotReachable', 'ConnectionClosed', 'SocketTimeout', 'TooManyConnections']
const OVERLOAD = new Set(['57014', '25P03', '53300', '55P03', '57P01', '57P02', '57P03', '40001', '40P01'])

/** Outages and overload become 503 here; everything else stays what it was. */
export function asDatabaseError(error: unknown): unknown {
  if (error instanceof AppError) return error
  const state = sqlState(error)
  const text = error instanceof Error ? error.message : ''
  const known = error instanceof Prisma.PrismaClientKnownRequestError
  const outage =
    error instanceof Prisma.PrismaClientInitializationError ||
    (known && ['P1001', 'P1002', 'P1008', 'P1017', 'P2024', 'P2028', 'P2034'].includes(error.code)) ||
    (isDriverError(error) && AWAY.includes(String(error.cause.kind))) ||
    (state !== undefined && (OVERLOAD.has(state) || state.startsWith('08'))) ||
    /ECONNREFUSED|ECONNRESET|Connection terminated|not queryable|timeout exceeded when trying to connect|server closed the connection/i.test(text) // prettier-ignore
  if (!outage) return error
  return new AppError('database_unavailable', { retryAfterSeconds: 2, internal: text, cause: error })
}
