import { openLedger } from '../jobs/open-ledger.ts'
import { openEpochAfterRestore } from '../ledger/sealer.ts'
import type { EpochReason } from '../ledger/tree-head.ts'
import { runCommand, UsageError } from './admin.ts'

const REASONS: readonly EpochReason[] = ['restored_from_backup', 'moved_to_new_database', 'signing_key_compromised']

const HELP = `Usage: limb-ledger open-epoch --clinic ID --reason WORD

Declares why the audit log of a clinic does not go on where the witness saw it end. A new epoch is opened with a signed
head that states what the database still holds and what had been witnessed: the loss is on record for good, and every
later verification says so. Stop the service first. Do this for each clinic the service names when it does not start.

  --reason WORD   ${REASONS.join(', ')}

Not for a database that somebody changed: keep that one as it is, and find out.
After a restore, repeat the erasures made since that backup: they are in the last export of the audit log.
Uses SEALER_DATABASE_URL, WITNESS_FILE and SIGNING_KEY_FILE; the embedded ones where there are none.`

const LOCK_WAIT_MS = 10_000

export const run = (argv: readonly string[]): Promise<number> =>
  runCommand(argv, { name: 'open-epoch', help: HELP, options: ['clinic', 'reason'] }, async (options, configured) => {
    const config = configured()
    const clinicId = options.needUuid('clinic')
    const reason = REASONS.find((word) => word === options.need('reason'))
    if (reason === undefined) throw new UsageError(`--reason wants one of ${REASONS.join(', ')}.`)
    const machine =
      config.SEALER_DATABASE_URL === undefined && config.NODE_ENV !== 'production'
        ? await (await import('../embedded/machine.ts')).startEmbeddedMachine(config)
        : null
    try {
      const url = config.SEALER_DATABASE_URL ?? machine?.urls.sealer
      if (url === undefined) throw new UsageError('SEALER_DATABASE_URL is not set.')
      const ledger = await openLedger(config, url, () => undefined)
      try {
        const deps = { ...ledger.deps, waitForLockMs: LOCK_WAIT_MS }
        const opened = await openEpochAfterRestore(ledger.sealerPool, clinicId, reason, deps)
        if (opened === null) throw new Error('A sealer is at work on this clinic: stop the service first.')
        return JSON.stringify({ clinicId, epoch: opened.epoch, reason })
      } finally {
        await ledger.close()
      }
    } finally {
      await machine?.stop()
    }
  })
