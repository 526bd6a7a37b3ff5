/** Starts the service and ends it in order. It does something when it is loaded, so nothing loads it. */
import './server/require-node.js'
import closeWithGrace from 'close-with-grace'
import { readConfig, type Config } from './config.ts'
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

try {
  await start(readConfig(process.env))
} catch (error) {
  process.stderr.write(`limb-ledger does not start: ${error instanceof Error ? error.message : String(error)}\n`)
  process.exit(1)
}
