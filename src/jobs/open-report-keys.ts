import { makeReportKeysText, openReportKeys, type ReportKeys } from '../application/reports/report-keys.ts'
import type { Config } from '../config.ts'
import { readKeyFile } from './open-ledger.ts'

export const openReportKeysOf = (
  config: Pick<Config, 'NODE_ENV' | 'DATA_DIR' | 'REPORT_KEYS_FILE'>,
): Promise<ReportKeys> =>
  readKeyFile(config, 'REPORT_KEYS_FILE', 'report-keys.json', makeReportKeysText, openReportKeys)
