import { AppError } from '../../domain/errors.ts'
import type { LedgerAccess } from '../../ledger/access.ts'
import { sealerReader } from '../../ledger/sealer.ts'
import { verifyLiveClinic, type ClinicVerification } from '../../ledger/verify-clinic.ts'
import { WitnessError } from '../../ledger/verify/witness-file.ts'
import { WitnessDamaged } from '../../ledger/witness.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { asLedgerError, requireLedger } from './clinic-reader.ts'

export type VerificationLine =
  | { readonly progress: { readonly entries: number } }
  | { readonly report: ClinicVerification }
  /** The check itself could not be made: the witness is missing or does not hold together. */
  | { readonly notVerified: { readonly reason: 'no_witness' | 'witness_damaged' } }

/** One at a time for a clinic: it reads the whole log. */
const running = new Set<string>()

/** The whole log against its heads, the witness, and the events it was made from. Lines as it goes; the last is the report. */
export async function verifyAuditLog(ctx: Context): Promise<AsyncIterable<VerificationLine>> {
  const ledger = requireLedger(ctx)
  const { clinicId } = ctx.actor
  if (running.has(clinicId)) throw new AppError('busy', { retryAfterSeconds: 10, detail: 'A verification of this log is running.' }) // prettier-ignore
  running.add(clinicId)
  try {
    await perform(ctx, 'audit.verify', () => Promise.resolve())
    // Asked before the answer begins, which could only break off.
    await ledger.deps.witness.last(clinicId)
    return verification(ctx, ledger)
  } catch (error) {
    running.delete(clinicId)
    throw asLedgerError(error)
  }
}

/** Goes on to its end even if the asker leaves: it is let in again only then. */
function verification(ctx: Context, ledger: LedgerAccess): AsyncIterable<VerificationLine> {
  const lines = new Lines<VerificationLine>()
  void verify(ctx, ledger, (entries) => lines.push({ progress: { entries } }))
    .then((last) => lines.push(last))
    .catch((error: unknown) => lines.fail(error))
    .finally(() => {
      running.delete(ctx.actor.clinicId)
      lines.end()
    })
  return lines
}

async function verify(
  ctx: Context,
  { sealerPool, deps }: LedgerAccess,
  onProgress: (entries: number) => void,
): Promise<VerificationLine> {
  const { clinicId } = ctx.actor
  try {
    if ((await deps.witness.last(clinicId)) === null) return { notVerified: { reason: 'no_witness' } }
    return {
      report: await verifyLiveClinic(sealerPool, sealerReader(sealerPool, clinicId), clinicId, deps, onProgress),
    }
  } catch (error) {
    if (error instanceof WitnessError || error instanceof WitnessDamaged) return { notVerified: { reason: 'witness_damaged' } } // prettier-ignore
    throw error
  }
}

/** Lines from a callback to whoever reads them. */
class Lines<T> implements AsyncIterable<T> {
  readonly #waiting: T[] = []
  #ended = false
  #failure: { readonly error: unknown } | null = null
  #wake = (): void => undefined

  push(line: T): void {
    this.#waiting.push(line)
    this.#wake()
  }

  end(): void {
    this.#ended = true
    this.#wake()
  }

  /** The reader gets it after the lines that came before. */
  fail(error: unknown): void {
    this.#failure = { error }
  }

  async *[Symbol.asyncIterator](): AsyncGenerator<T> {
    for (;;) {
      const line = this.#waiting.shift()
      if (line !== undefined) yield line
      else if (this.#ended) {
        if (this.#failure !== null) throw this.#failure.error
        return
      } else await new Promise<void>((wake) => (this.#wake = wake))
    }
  }
}
