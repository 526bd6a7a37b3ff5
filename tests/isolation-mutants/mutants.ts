/**
 * Faults that would let one clinic see, touch or notice another, each as small as a mistake is, and the test that has to
 * notice it. `npm run mutants:isolation` plants them one by one in a copy of this tree.
 *
 * The golden of the catalogue would notice every change of the schema; it is asked for none of them, because whoever makes a
 * mistake in a migration writes the golden anew. A fault that the second lock would hide opens that lock as well.
 */

export interface Edit {
  readonly file: string
  /** Stands there exactly once. */
  readonly find: string
  readonly replace: string
}

export interface Mutant {
  readonly name: string
  readonly edits?: readonly Edit[]
  /** Run by the owner after the last migration. */
  readonly sql?: string
  readonly caughtBy: { readonly file: string; readonly test: string }
}

const CATALOGUE = 'tests/catalogue/catalogue.db.test.ts'
const ISOLATION = 'tests/faces/rest/isolation.db.test.ts'
const TEAM_ROLE = 'tests/tenancy/team-role.db.test.ts'
const READ_SUBJECT = { file: ISOLATION, test: 'in the address of GET /v1/subjects/:subjectId are ids of nothing' }

/** A function that sees the subjects of every clinic, as one that runs with its owner's rights over an unforced table does. */
const WHOSE_SUBJECT = `
  alter table subject no force row level security;
  create function whose_subject(p_id uuid) returns uuid language sql stable security definer
    set search_path = pg_catalog, public, pg_temp as $$ select clinic_id from subject where id = p_id $$;
  grant execute on function whose_subject(uuid) to limb_ledger_app;`

const askWhoseItIs = (refusal: string): Edit => ({
  file: 'src/application/subjects/get-subjects.ts',
  find: '    rows.forEach((row) => trace.subject(row.id))\n',
  replace: `    rows.forEach((row) => trace.subject(row.id))
    const [{ owner }] = await tx.$queryRaw\`select whose_subject(\${input.subjectIds[0]}::uuid)::text as owner\`
    if (rows.length === 0 && owner !== null) throw new AppError(${refusal})
`,
})
const importAppError: Edit = {
  file: 'src/application/subjects/get-subjects.ts',
  find: "import type { Context } from '../context.ts'\n",
  replace: "import { AppError } from '../../domain/errors.ts'\nimport type { Context } from '../context.ts'\n",
}

const readingWithoutTheClinic: Edit = {
  file: 'src/store/subject-store.ts',
  find: 'where: { clinicId: tx.clinicId, subjectId: { in: [...ids] }, ...inForceAt(knownAt) }',
  replace: 'where: { subjectId: { in: [...ids] }, ...inForceAt(knownAt) }',
}

export const MUTANTS: readonly Mutant[] = [
  // ── Policies ─────────────────────────────────────────────────────────────────────────────────────────────────────
  {
    name: 'row-level security is not forced on a table',
    sql: 'alter table session no force row level security',
    caughtBy: { file: CATALOGUE, test: 'has row-level security enabled and forced' },
  },
  {
    name: 'row-level security is off on a table',
    sql: 'alter table set_result disable row level security',
    caughtBy: { file: CATALOGUE, test: 'shows no row before a clinic is set|has row-level security enabled' },
  },
  {
    name: 'a policy lets every row be seen',
    sql: 'alter policy subject_clinic on subject using (true)',
    caughtBy: { file: CATALOGUE, test: 'has one policy for clinics' },
  },
  {
    name: 'a policy lets every row be written',
    sql: 'alter policy flag_clinic on flag with check (true)',
    caughtBy: { file: CATALOGUE, test: 'has one policy for clinics' },
  },
  {
    name: 'a second policy opens what the first one closes',
    sql: 'create policy lists on session for select using (true)',
    caughtBy: { file: CATALOGUE, test: 'has no other policy' },
  },
  {
    name: 'a policy fails where it should close: no nullif around the setting',
    sql: `alter policy episode_clinic on episode using (clinic_id = (select current_setting('app.clinic_id', true)::uuid))`,
    caughtBy: { file: CATALOGUE, test: 'has one policy for clinics' },
  },
  {
    name: "a team's policy forgets the purpose",
    sql: `alter policy consent_team on consent using (team_id = (select nullif(current_setting('app.team_id', true), '')::uuid)
            and revoked_at is null and valid_from <= now() and valid_until > now())`,
    caughtBy: { file: TEAM_ROLE, test: 'sees nothing without a team or a purpose' },
  },
  {
    name: "a team's policy forgets the team",
    sql: `alter policy report_share_team on report_share using (appears_at <= now())`,
    caughtBy: { file: TEAM_ROLE, test: 'sees its own shares and nobody else' },
  },

  // ── Grants, roles, functions ─────────────────────────────────────────────────────────────────────────────────────
  {
    name: 'the service may change an event of the audit log',
    sql: 'grant update (outcome) on audit_event to limb_ledger_app',
    caughtBy: { file: CATALOGUE, test: 'can neither change nor remove a row of the audit log' },
  },
  {
    name: 'the sealer may remove a leaf of the audit log',
    sql: 'grant delete on audit_leaf to limb_ledger_sealer',
    caughtBy: { file: CATALOGUE, test: 'can neither change nor remove a row of the audit log' },
  },
  {
    name: 'the service bypasses row-level security',
    edits: [
      {
        file: 'src/store/migrate/ensure-roles.ts',
        find: '    rolbypassrls: false,\n',
        replace: '    rolbypassrls: login,\n',
      },
    ],
    caughtBy: { file: CATALOGUE, test: 'are members of no role, bypass nothing' },
  },
  {
    name: 'the role of the teams reads a table of the clinics',
    sql: 'grant select on subject to limb_ledger_team',
    caughtBy: { file: TEAM_ROLE, test: 'are to read columns of three tables' },
  },
  {
    name: 'the service reads the list of all clinics',
    sql: 'grant select (id) on clinic to limb_ledger_app',
    caughtBy: { file: CATALOGUE, test: 'is out of reach of the login roles' },
  },
  {
    name: 'a function of its owner looks names up where a caller can put some',
    sql: 'alter function authenticate_member(uuid, text, text) reset search_path',
    caughtBy: { file: CATALOGUE, test: 'that runs with the rights of its owner' },
  },
  {
    name: 'a view shows what its owner may see',
    sql: 'create view people as select clinic_id, id from subject; grant select on people to limb_ledger_app',
    caughtBy: { file: CATALOGUE, test: 'of which the view shows each caller' },
  },
  {
    name: 'a member of any clinic is a member of the one that the token names',
    sql: `create or replace function authenticate_member(p_clinic uuid, p_issuer text, p_sub text)
          returns table (principal_id uuid, role text, display_name text, licensed boolean, clinic_name text, time_zone text)
          language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
          begin
            perform set_config('app.clinic_id', (select m.clinic_id from membership m join principal p on p.id = m.principal_id
              where p.issuer = p_issuer and p.sub = p_sub limit 1)::text, true);
            return query select m.principal_id, m.role, m.display_name, m.licence is not null, c.name, c.time_zone
              from principal p join membership m on m.principal_id = p.id join clinic c on c.id = p_clinic
              where p.issuer = p_issuer and p.sub = p_sub;
          end $$;
          alter table membership no force row level security`,
    caughtBy: { file: ISOLATION, test: 'of members cannot be borrowed' },
  },

  // ── Keys ─────────────────────────────────────────────────────────────────────────────────────────────────────────
  {
    name: 'a foreign key without the clinic',
    sql: `alter table session add constraint session_id_key unique (id);
          alter table set_result drop constraint set_result_clinic_id_session_id_fkey,
            add constraint set_result_session_id_fkey foreign key (session_id) references session (id)`,
    caughtBy: { file: CATALOGUE, test: 'is referred to only together with the clinic' },
  },
  {
    name: 'a number is unique among all clinics',
    sql: 'create unique index subject_identifier_of_all on subject_identifier (system, value)',
    caughtBy: {
      file: 'tests/faces/rest/tenancy.db.test.ts',
      test: 'takes no identifier and no external id away from us',
    },
  },
  {
    name: 'a table is not keyed by clinic first',
    sql: `alter table functional_result drop constraint functional_result_pkey cascade,
            add primary key (id, clinic_id)`,
    caughtBy: { file: CATALOGUE, test: 'is keyed by clinic first' },
  },

  // ── Who decides the clinic ───────────────────────────────────────────────────────────────────────────────────────
  {
    name: 'a header decides the clinic',
    edits: [
      {
        file: 'src/server/authenticate.ts',
        find: '  request.actor = actor\n',
        replace: `  const named = request.headers['x-clinic-id']
  request.actor = actor.kind === 'clinic' && typeof named === 'string' ? { ...actor, clinicId: named } : actor
`,
      },
    ],
    caughtBy: { file: ISOLATION, test: 'in a header decides nothing' },
  },
  {
    name: 'the body decides the clinic',
    edits: [
      {
        file: 'src/faces/context.ts',
        find: '    actor: request.actor,\n    requestId: request.id,\n    now: deps.clock(),\n    purpose: purposeOf(request),\n',
        replace: `    actor: { ...request.actor, clinicId: /"clinicId":"([0-9a-f-]{36})"/.exec(String(request.body))?.[1] ?? request.actor.clinicId },
    requestId: request.id,
    now: deps.clock(),
    purpose: purposeOf(request),
`,
      },
    ],
    caughtBy: { file: ISOLATION, test: 'in the body is a field that nobody knows|the rows of the other clinics' },
  },
  {
    name: 'the clinic of a transaction stays on the connection',
    edits: [
      {
        file: 'src/tenancy/with-clinic.ts',
        find: "set_config('app.clinic_id', ${actor.clinicId}, true)",
        replace: "set_config('app.clinic_id', ${actor.clinicId}, false)",
      },
    ],
    caughtBy: { file: 'tests/tenancy/pool-reuse.db.test.ts', test: 'on one connection' },
  },
  {
    name: 'the team of a transaction stays on the connection',
    edits: [
      {
        file: 'src/tenancy/with-team.ts',
        find: "set_config('app.team_id', ${actor.teamId}, true)",
        replace: "set_config('app.team_id', ${actor.teamId}, false)",
      },
    ],
    caughtBy: { file: 'tests/tenancy/pool-reuse.db.test.ts', test: 'on one connection' },
  },
  {
    name: 'transactions share the object that says whose they are',
    edits: [
      {
        file: 'src/tenancy/with-clinic.ts',
        find: 'Object.create(tx, { clinicId: { value: actor.clinicId } })',
        replace: 'Object.assign(tx, { clinicId: actor.clinicId })',
      },
    ],
    caughtBy: { file: 'tests/tenancy/with-clinic.db.test.ts', test: 'each keep their own clinic to the end' },
  },

  // ── What is kept, remembered, pointed at ─────────────────────────────────────────────────────────────────────────
  {
    name: 'an idempotency key is found whoever used it',
    sql: 'alter policy idempotency_clinic on idempotency using (true)',
    edits: [
      {
        file: 'src/store/idempotency-store.ts',
        find: '  const row = await tx.idempotency.findUnique({\n    where: { clinicId_principalId_route_key: { clinicId: tx.clinicId, ...scope } },\n  })\n',
        replace: '  const row = await tx.idempotency.findFirst({ where: { route: scope.route, key: scope.key } })\n',
      },
    ],
    caughtBy: { file: ISOLATION, test: 'an Idempotency-Key that they used is free for me' },
  },
  {
    name: 'an idempotency key in flight is in flight for every clinic',
    edits: [
      {
        file: 'src/store/idempotency-store.ts',
        find: 'JSON.stringify([tx.clinicId, scope.principalId, scope.route, scope.key])',
        replace: 'JSON.stringify([scope.route, scope.key])',
      },
    ],
    caughtBy: {
      file: 'tests/faces/rest/idempotency.db.test.ts',
      test: "in flight in another clinic is free in one's own",
    },
  },
  {
    name: 'a cursor leads into another clinic',
    sql: 'alter policy subject_version_clinic on subject_version using (true)',
    edits: [
      {
        file: 'src/store/subject-store.ts',
        find: 'where: { clinicId: tx.clinicId, supersededAt: null, ...(after === null ? {} : { subjectId: { gt: after } }) }',
        replace:
          'where: { supersededAt: null, ...(after === null ? { clinicId: tx.clinicId } : { subjectId: { gt: after } }) }',
      },
    ],
    caughtBy: { file: ISOLATION, test: 'in a cursor lead nowhere' },
  },
  {
    name: 'a cache forgets whose answer it keeps',
    edits: [
      {
        file: 'src/application/subjects/get-subjects.ts',
        find: 'export async function getSubjects(',
        replace: `const cache = new Map<string, readonly (SubjectRepresentation | null)[]>()
export async function getSubjects(ctx: Context, input: { subjectIds: readonly string[] }): ReturnType<typeof loaded> {
  const key = input.subjectIds.join()
  const known = cache.get(key) ?? (await loaded(ctx, input))
  cache.set(key, known)
  return known
}
async function loaded(`,
      },
    ],
    caughtBy: READ_SUBJECT,
  },
  {
    name: 'a reading without the clinic',
    sql: 'alter policy subject_version_clinic on subject_version using (true)',
    edits: [readingWithoutTheClinic],
    caughtBy: READ_SUBJECT,
  },
  {
    name: 'a reading without the clinic, asked over GraphQL',
    sql: 'alter policy subject_version_clinic on subject_version using (true)',
    edits: [readingWithoutTheClinic],
    caughtBy: {
      file: 'tests/faces/graphql/isolation.db.test.ts',
      test: 'in the arguments of subject are ids of nothing',
    },
  },
  {
    name: 'a reference in a document is looked up in every clinic',
    sql: 'alter policy subject_clinic on subject using (true)',
    edits: [
      {
        file: 'src/store/subject-store.ts',
        find: '    const row = await tx.subject.findUnique({\n      where: { clinicId_id: { clinicId: tx.clinicId, id: reference.id } },\n',
        replace: '    const row = await tx.subject.findFirst({\n      where: { id: reference.id },\n',
      },
    ],
    caughtBy: { file: ISOLATION, test: 'in a body are references to nothing' },
  },

  // ── What an answer or the log gives away ─────────────────────────────────────────────────────────────────────────
  {
    name: "another clinic's record is forbidden instead of not there",
    sql: WHOSE_SUBJECT,
    edits: [importAppError, askWhoseItIs("'forbidden'")],
    caughtBy: READ_SUBJECT,
  },
  {
    name: 'a refusal names the other clinic',
    sql: WHOSE_SUBJECT,
    edits: [importAppError, askWhoseItIs("'not_found', { detail: `It is in clinic ${owner}.` }")],
    caughtBy: READ_SUBJECT,
  },
  {
    name: 'the log of the machine names what was asked for',
    edits: [
      {
        file: 'src/server/http.ts',
        find: '{ method: request.method, route: request.routeOptions.url, status: reply.statusCode,',
        replace: '{ method: request.method, route: request.url, status: reply.statusCode,',
      },
    ],
    caughtBy: {
      file: ISOLATION,
      test: 'in the address of GET /v1/subjects/:subjectId are|no line of the log knows them',
    },
  },
]
