import { readFileSync, writeFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { LOGIN_ROLES, OWNER_ROLE } from '../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { TABLE_CLASSES } from '../../src/store/table-classes.ts'
import { testDatabase } from '../harness/test-database.ts'
import { describeCatalogue } from './describe-catalogue.ts'

const database = await testDatabase()
const GOLDEN = new URL('../golden/catalogue.txt', import.meta.url)

const LOGINS = Object.values(LOGIN_ROLES)
const ofClass = (wanted: string) =>
  Object.entries(TABLE_CLASSES)
    .filter(([, name]) => name === wanted)
    .map(([table]) => table)
const TENANT = ofClass('tenant')
const CONTROL = ofClass('control')
/** Tenant tables of which the role of the teams sees rows; tests/tenancy/team-role.db.test.ts tries what it can do. */
const TEAMS_READ = ['consent', 'report_share', 'shared_report']
const AUDIT = TENANT.filter((table) => table.startsWith('audit_') || table === 'tree_head')

type Row = Record<string, unknown>

async function query(sql: string, parameters: unknown[] = [], url = database.adminUrl): Promise<Row[]> {
  return withClient(url, async (client) => (await client.query<Row>(sql, parameters)).rows)
}

/** Names what breaks the rule: the list is empty when the rule holds. */
async function offenders(sql: string, parameters: unknown[] = []): Promise<unknown[]> {
  return (await query(sql, parameters)).map((row) => row['offender'])
}

/** Policies on tables, by table; roles by name, none for everyone. */
const policies = (condition: string) =>
  query(
    `select c.relname::text as table, p.polcmd::text as command, p.polpermissive as permissive,
       coalesce((select string_agg(pg_get_userbyid(r)::text, ',' order by 1) from unnest(p.polroles) r where r <> 0), '') as roles,
       pg_get_expr(p.polqual, p.polrelid) as using, pg_get_expr(p.polwithcheck, p.polrelid) as check
     from pg_policy p join ${TABLES} on c.oid = p.polrelid where ${condition} order by 1`,
  )

const TABLES = `pg_class c join pg_namespace n on n.oid = c.relnamespace and n.nspname = 'public'`

describe('every table', () => {
  it('has a class, and every class entry a table', async () => {
    const found = await query(
      `select c.relname::text as name from ${TABLES} where c.relkind in ('r', 'p', 'f', 'm') order by 1`,
    )
    expect(found.map((row) => row['name'])).toEqual(Object.keys(TABLE_CLASSES).sort())
  })

  it('belongs to the owner that cannot log in', async () => {
    expect(
      await offenders(
        `select c.relname::text as offender from ${TABLES}
         where c.relkind in ('r', 'p', 'v', 'S') and pg_get_userbyid(c.relowner) <> $1`,
        [OWNER_ROLE],
      ),
    ).toEqual([])
  })

  it('keeps NaN and the infinities out of every floating-point column', async () => {
    const columns = await query(
      `select c.relname::text as table, a.attname::text as column, t.typname::text as type, coalesce(
         (select array_agg(pg_get_expr(k.conbin, k.conrelid)) from pg_constraint k
          where k.conrelid = c.oid and k.contype = 'c' and k.convalidated and k.conkey = array[a.attnum]), '{}') as checks
       from ${TABLES} join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped
       join pg_type t on t.oid = a.atttypid
       where c.relkind in ('r', 'p') and t.typname in ('float4', 'float8', 'numeric', '_float4', '_float8', '_numeric')`,
    )
    expect(columns.length).toBeGreaterThan(10)
    const open: string[] = []
    await withClient(database.adminUrl, async (client) => {
      for (const { table, column, type, checks } of columns as { [key: string]: string }[]) {
        for (const value of ['NaN', 'Infinity', '-Infinity']) {
          const refused = (checks as unknown as string[]).map(async (check) => {
            const sql = `select ${check} as accepted from (select $1::${type} as "${column}") as probe`
            return (await client.query<{ accepted: boolean | null }>(sql, [value])).rows[0]?.accepted === false
          })
          if (!(await Promise.all(refused)).includes(true)) open.push(`${table}.${column} takes ${value}`)
        }
      }
    })
    expect(open).toEqual([])
  })
})

describe('every tenant table', () => {
  it('is keyed by clinic first', async () => {
    expect(
      await offenders(
        `select t.name as offender from unnest($1::text[]) as t (name)
         where not exists (
           select from pg_index i join pg_attribute a on a.attrelid = i.indrelid and a.attnum = i.indkey[0]
           where i.indrelid = to_regclass(t.name) and i.indisprimary and a.attname = 'clinic_id' and a.atttypid = 'uuid'::regtype)`,
        [TENANT],
      ),
    ).toEqual([])
  })

  it('has row-level security enabled and forced, so that its owner is bound by it as well', async () => {
    expect(
      await offenders(
        `select c.relname::text as offender from ${TABLES}
         where c.relname = any ($1) and not (c.relrowsecurity and c.relforcerowsecurity)`,
        [TENANT],
      ),
    ).toEqual([])
  })

  it('has one policy for clinics, for every command, that reads the clinic once and fails closed', async () => {
    const clinic = `(clinic_id = ( SELECT (NULLIF(current_setting('app.clinic_id'::text, true), ''::text))::uuid AS "nullif"))`
    expect(await policies(`p.polname = c.relname || '_clinic'`)).toEqual(
      [...TENANT].sort().map((table) => ({
        table,
        command: '*',
        permissive: true,
        // Policies are joined by OR: where teams read as well, the clinic's is not for their role.
        roles: TEAMS_READ.includes(table) ? 'limb_ledger_app,limb_ledger_owner' : '',
        using: clinic,
        check: clinic,
      })),
    )
  })

  it('has no other policy, but where teams read: one for their role, to read, that names the team', async () => {
    const found = await policies(`p.polname <> c.relname || '_clinic'`)
    expect(found.map(({ using: _, ...policy }) => policy)).toEqual(
      TEAMS_READ.map((table) => ({ table, command: 'r', permissive: true, roles: 'limb_ledger_team', check: null })),
    )
    for (const { using } of found)
      expect(using).toContain(`(team_id = ( SELECT (NULLIF(current_setting('app.team_id'::text, true), ''::text))::uuid AS "nullif"))`) // prettier-ignore
  })

  it('has no unique index that would tell one clinic what another one has', async () => {
    expect(
      await offenders(
        `select i.indexrelid::regclass::text as offender from pg_index i join ${TABLES} on c.oid = i.indrelid
         where c.relname = any ($1) and i.indisunique and not exists (
           select from pg_attribute a where a.attrelid = i.indrelid and a.attname = 'clinic_id'
             and a.attnum = any ((i.indkey::int2[])[0:i.indnkeyatts - 1]))`,
        [TENANT],
      ),
    ).toEqual([])
  })

  it("is referred to only together with the clinic, so that no row can point at another clinic's", async () => {
    expect(
      await offenders(
        `select k.conname::text as offender from pg_constraint k join ${TABLES} on c.oid = k.confrelid
         where k.contype = 'f' and c.relname = any ($1) and not exists (
           select from unnest(k.conkey, k.confkey) as pair (here, there)
           join pg_attribute a on a.attrelid = k.conrelid and a.attnum = pair.here
           join pg_attribute b on b.attrelid = k.confrelid and b.attnum = pair.there
           where a.attname = 'clinic_id' and b.attname = 'clinic_id')`,
        [TENANT],
      ),
    ).toEqual([])
  })

  it('shows no row before a clinic is set, nor after one was, on the same connection', async () => {
    await withClient(database.appUrl, async (client) => {
      const countAll = async () => {
        for (const table of TENANT) {
          const { rows } = await client.query<{ n: number }>(`select count(*)::int as n from ${table}`)
          expect({ table, rows }).toEqual({ table, rows: [{ n: 0 }] })
        }
      }
      await countAll()
      await client.query('begin')
      await client.query(`select set_config('app.clinic_id', gen_random_uuid()::text, true)`)
      await client.query('commit')
      expect((await client.query(`select current_setting('app.clinic_id', true) as left_over`)).rows).toEqual([
        { left_over: '' },
      ])
      await countAll()
    })
  })
})

describe('every control table', () => {
  it('is out of reach of the login roles, row and column', async () => {
    expect(
      await offenders(
        `select role || ' ' || privilege || ' ' || t.name as offender
         from unnest($1::text[]) as t (name), unnest($2::text[]) as role,
           unnest(array['select', 'insert', 'update', 'references']) as privilege
         where has_table_privilege(role, t.name, privilege) or has_any_column_privilege(role, t.name, privilege)
            or has_table_privilege(role, t.name, 'delete')`,
        [CONTROL, LOGINS],
      ),
    ).toEqual([])
  })

  it('denies every row to whoever is granted it by mistake', async () => {
    expect(
      await offenders(
        `select c.relname::text as offender from ${TABLES}
         where c.relname = any ($1) and c.relname <> '_prisma_migrations' and not c.relrowsecurity`,
        [CONTROL],
      ),
    ).toEqual([])
  })
})

describe('the login roles', () => {
  it('own nothing, in this database or any other of the cluster', async () => {
    expect(
      await offenders(
        `select pg_get_userbyid(d.refobjid)::text || ' owns ' || pg_describe_object(d.classid, d.objid, d.objsubid) as offender
         from pg_shdepend d join pg_roles r on r.oid = d.refobjid
         where d.refclassid = 'pg_authid'::regclass and d.deptype = 'o' and r.rolname = any ($1)`,
        [LOGINS],
      ),
    ).toEqual([])
  })

  it('are members of no role, bypass nothing and administer nothing', async () => {
    expect(
      await offenders(
        `select r.rolname::text as offender from pg_roles r where r.rolname = any ($1) and (
           r.rolsuper or r.rolbypassrls or r.rolcreaterole or r.rolcreatedb or r.rolreplication or r.rolinherit
           or exists (select from pg_auth_members m where m.member = r.oid))`,
        [LOGINS],
      ),
    ).toEqual([])
  })

  it('may create nothing: no table, no temporary table, no schema', async () => {
    expect(
      await offenders(
        `select role as offender from unnest($1::text[]) as role
         where has_schema_privilege(role, 'public', 'create') or has_database_privilege(role, current_database(), 'temp')
            or has_database_privilege(role, current_database(), 'create')`,
        [LOGINS],
      ),
    ).toEqual([])
  })

  it('hold no right that reaches around a policy, and none that they could pass on', async () => {
    expect(
      await offenders(
        `select c.relname || ' ' || a.privilege_type || ' to ' || a.grantee::regrole as offender
         from ${TABLES}, aclexplode(c.relacl) a where a.grantee <> c.relowner
           and (a.is_grantable or a.privilege_type in ('TRUNCATE', 'REFERENCES', 'TRIGGER', 'MAINTAIN'))
         union all
         select c.relname || '.' || t.attname || ' ' || a.privilege_type
         from ${TABLES} join pg_attribute t on t.attrelid = c.oid, aclexplode(t.attacl) a
         where a.is_grantable or a.privilege_type = 'REFERENCES'`,
      ),
    ).toEqual([])
  })

  it('can neither change nor remove a row of the audit log, not even one column of it', async () => {
    expect(AUDIT).toEqual(['audit_event', 'audit_disclosure', 'audit_leaf', 'tree_head'])
    expect(
      await offenders(
        `select role || ' may change ' || t.name as offender from unnest($1::text[]) as t (name), unnest($2::text[]) as role
         where has_any_column_privilege(role, t.name, 'update') or has_table_privilege(role, t.name, 'delete')
            or has_table_privilege(role, t.name, 'truncate')`,
        [AUDIT, LOGINS],
      ),
    ).toEqual([])
  })
})

describe('the public', () => {
  it('is granted nothing: no schema, table, column, sequence or function', async () => {
    expect(
      await offenders(
        `select 'schema ' || n.nspname as offender from pg_namespace n, aclexplode(n.nspacl) a
         where n.nspname = 'public' and a.grantee = 0
         union all
         select 'table ' || c.relname from ${TABLES}, aclexplode(c.relacl) a where a.grantee = 0
         union all
         select 'column ' || c.relname || '.' || t.attname from ${TABLES}
         join pg_attribute t on t.attrelid = c.oid, aclexplode(t.attacl) a where a.grantee = 0
         union all
         select 'function ' || f.oid::regprocedure::text from pg_proc f
         where f.pronamespace = 'public'::regnamespace and has_function_privilege('public', f.oid, 'execute')`,
      ),
    ).toEqual([])
  })
})

describe('every view and function', () => {
  it('of which the view shows each caller only what that caller may see', async () => {
    expect(
      await offenders(
        `select c.relname::text as offender from ${TABLES}
         where c.relkind = 'm' or (c.relkind = 'v' and not coalesce('security_invoker=true' = any (c.reloptions), false))`,
      ),
    ).toEqual([])
  })

  // Unless pg_temp is named last it is searched first, and a temporary table could stand in for one of ours.
  it('that runs with the rights of its owner looks names up where no caller can put any', async () => {
    expect(
      await offenders(
        `select f.oid::regprocedure::text || ' ' || coalesce(array_to_string(f.proconfig, ' '), 'no search_path') as offender
         from pg_proc f where f.pronamespace = 'public'::regnamespace and f.prosecdef and not exists (
           select from unnest(f.proconfig) as setting
           where setting = 'search_path=""' or setting ~ '^search_path=pg_catalog,( public,)? pg_temp$')`,
      ),
    ).toEqual([])
  })
})

describe('the whole catalogue', () => {
  it('is what tests/golden/catalogue.txt says (UPDATE_GOLDEN=1 writes it anew)', async () => {
    const found = await withClient(database.adminUrl, describeCatalogue)
    if (process.env['UPDATE_GOLDEN'] === '1') writeFileSync(GOLDEN, found)
    expect(found).toBe(readFileSync(GOLDEN, 'utf8'))
  })
})
