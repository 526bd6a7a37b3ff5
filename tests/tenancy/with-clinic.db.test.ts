import { afterAll, describe, expect, it } from 'vitest'
import { v7 as uuidv7 } from 'uuid'
import { createClinic, withOwner } from '../../src/store/admin-store.ts'
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

describe('statements of one connection', () => {
  const alone = openDatabase(database.appUrl, { poolSize: 1 })
  afterAll(() => alone.close())

  it('are planned once, and answer of the clinic that asks', async () => {
    const clinicId = await withOwner(database.adminUrl, (client) =>
      createClinic(client, { name: 'Clinic', timeZone: 'Europe/Zurich', issuers: ['https://issuer.test.example'] }),
    )
    const ask = (clinicId: string) =>
      withClinic(alone, { clinicId }, (tx) => tx.$queryRaw<{ id: string }[]>`select id from subject`)
    await withClinic(db, { clinicId }, (tx) => tx.$executeRaw`insert into subject (clinic_id, id, version, created_at) values (${clinicId}::uuid, ${clinicId}::uuid, 1, now())`) // prettier-ignore
    // More often than the five times after which the server plans for all values at once.
    for (let i = 0; i < 8; i++) {
      expect(await ask(clinicId)).toEqual([{ id: clinicId }])
      expect(await ask(uuidv7())).toEqual([])
    }
    const kept = await withClinic(
      alone,
      { clinicId },
      (tx) => tx.$queryRaw<{ calls: bigint }[]>`
      select generic_plans + custom_plans as calls from pg_prepared_statements where statement = 'select id from subject'`,
    )
    expect(kept).toEqual([{ calls: 16n }])
  })

  it('are kept up to a number, however many there are', async () => {
    const kept = await withClinic(alone, { clinicId: uuidv7() }, async (tx) => {
      for (let i = 0; i < 600; i++) await tx.$queryRawUnsafe(`select ${i} as one_of_many`)
      return tx.$queryRaw<{ n: number }[]>`select count(*)::int as n from pg_prepared_statements`
    })
    expect(kept).toEqual([{ n: 500 }])
  })
})
