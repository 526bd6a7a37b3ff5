import { insertFlags } from '../../store/flag-store.ts'
import { insertRecordings } from '../../store/recording-store.ts'
import { insertAnalyses, insertComparabilityKeys, insertResults } from '../../store/result-store.ts'
import { insertFunctionalResults, insertSetups, insertTestSets } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { SessionContent } from './session-content.ts'

/** What hangs on a version of a session; the version's own row is written before. */
export async function writeContent(tx: ClinicTx, content: SessionContent): Promise<void> {
  const { sessionId, version: sessionVersion, recordedAt } = content.session
  const place = { sessionId, sessionVersion }
  await insertRecordings(tx, content.recordings)
  await insertSetups(tx, place, content.setups)
  await insertTestSets(tx, place, content.sets)
  await insertComparabilityKeys(tx, content.keys)
  await insertAnalyses(tx, content.analyses, recordedAt)
  await insertResults(tx, content.results, recordedAt)
  await insertFunctionalResults(tx, { ...place, recordedAt }, content.functionalResults)
  await insertFlags(tx, content.flags, recordedAt)
}
