import { afterAll, describe, expect, it } from 'vitest'
import { v7 as uuidv7 } from 'uuid'
import { openDatabase } from '../../src/tenancy/database.ts'
import { withClinic } from '../../src/tenancy/with-clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const db = openDatabase(database.appUrl, { poolSize: 4, maxWaitMs: 20_000 })
afterAll(() => db.close())

describe('transactions of several clinics at once', () => {
  it('each keep their own clinic to the end, in the setting and in the id that stores write', async () => {
    const clinics = Array.from({ length: 4 }, () => uuidv7())
    let inside = 0
    let release = (): void => undefined
    const allInside = new Promise<void>((settle) => (release = settle))
    const seen = await Promise.all(
      clinics.map((clinicId) =>
        withClinic(db, { clinicId }, async (tx) => {
          inside += 1
          if (inside === clinics.length) release()
          // Every transaction is open and has its clinic before the first of them looks.
          await allInside
          const rows = await tx.$queryRaw<{ setting: string }[]>`select current_setting('app.clinic_id') as setting`
          return { wanted: clinicId, ofStores: tx.clinicId, setting: rows[0]?.setting }
        }),
      ),
    )
    for (const { wanted, ofStores, setting } of seen) expect({ ofStores, setting }).toEqual({ ofStores: wanted, setting: wanted }) // prettier-ignore
  })
})
