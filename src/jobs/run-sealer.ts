/** The sealer as a process of its own (ROLE=sealer): no requests, no application data, one job. */
import { pino } from 'pino'
import { ConfigError, type Config } from '../config.ts'
import { logOptions } from '../server/logging.ts'
import { openLedger, refuseToStartOnAlarm } from './open-ledger.ts'
import { sealPeriodically, type RunningSealer } from './seal-periodically.ts'

export async function runSealer(config: Config): Promise<RunningSealer & { readonly log: pino.Logger }> {
  if (config.SEALER_DATABASE_URL === undefined) throw new ConfigError('ROLE=sealer needs SEALER_DATABASE_URL.')
  const log = pino(logOptions(config.LOG_LEVEL))
  const ledger = await openLedger(config, config.SEALER_DATABASE_URL, (error) => log.warn({ err: error }))
  try {
    await refuseToStartOnAlarm(ledger)
  } catch (error) {
    await ledger.close()
    throw error
  }
  const sealer = sealPeriodically(ledger, config.SEAL_INTERVAL_MS, log)
  return {
    log,
    stop: async () => {
      await sealer.stop()
      await ledger.close()
    },
  }
}
