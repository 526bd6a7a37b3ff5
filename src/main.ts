/** Starts the service and ends it in order. It does something when it is loaded, so nothing loads it. */
import './server/require-node.js'
import closeWithGrace from 'close-with-grace'
import { readConfig, type Config } from './config.ts'
import { runSealer } from './jobs/run-sealer.ts'
import { machineFor, makeService } from './service.ts'

/** In flight at SIGTERM: up to this long. */
const CLOSING_LIMIT_MS = 10_000

async function start(config: Config): Promise<void> {
  const say = (sentence: string): void => void process.stderr.write(`limb-ledger: ${sentence}\n`)
  const service = await makeService(config, { machine: await machineFor(config, say) })
  const { log } = service.app

  closeWithGrace({ delay: CLOSING_LIMIT_MS, logger: log }, async ({ err }) => {
    if (err !== undefined) log.error({ err }, 'closing after an error')
    await service.close()
  })

  await service.listen()
}

async function startSealer(config: Config): Promise<void> {
  const sealer = await runSealer(config)
  closeWithGrace({ delay: CLOSING_LIMIT_MS, logger: sealer.log }, () => sealer.stop())
}

try {
  const config = readConfig(process.env)
  await (config.ROLE === 'sealer' ? startSealer(config) : start(config))
} catch (error) {
  process.stderr.write(`limb-ledger does not start: ${error instanceof Error ? error.message : String(error)}\n`)
  process.exit(1)
}
