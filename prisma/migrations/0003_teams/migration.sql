-- Teams: who is invited, what is shared with whom and until when, and the locks of the role under which a team reads.
-- Tables first, as Prisma says them; then what Prisma cannot say: row-level security, grants, CHECKs, functions.
-- Runs as limb_ledger_owner (no login).

-- No consent, evaluation or report could be written before this, so the new mandatory columns find empty tables.
ALTER TABLE "criteria_set" ADD COLUMN "retired_by" UUID,
ADD COLUMN "retired_reason" TEXT;

ALTER TABLE "evaluation" ADD COLUMN "evidence_until" TIMESTAMPTZ(3);

ALTER TABLE "report" ADD COLUMN "reason" TEXT,
ADD COLUMN "withdrawn_by" UUID;

ALTER TABLE "consent" ADD COLUMN "episode_id" UUID,
ADD COLUMN "from_on" DATE NOT NULL,
ADD COLUMN "revoked_by" UUID,
ADD COLUMN "revoked_reason" TEXT,
ADD COLUMN "until_on" DATE NOT NULL;

CREATE TABLE "team_invitation" (
    "clinic_id" UUID NOT NULL,
    "team_id" UUID NOT NULL,
    "team_name" TEXT NOT NULL,
    "invited_by" UUID NOT NULL,
    "invited_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "team_invitation_pkey" PRIMARY KEY ("clinic_id","team_id")
);

CREATE TABLE "report_share" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "team_id" UUID NOT NULL,
    "consent_id" UUID NOT NULL,
    "report_id" UUID NOT NULL,
    "report_version" INTEGER NOT NULL,
    "appears_at" TIMESTAMPTZ(3) NOT NULL,
    "gone_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "report_share_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "shared_report" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "report_version" INTEGER NOT NULL,
    "team_id" UUID NOT NULL,
    "consent_id" UUID NOT NULL,
    "level" TEXT NOT NULL,
    "evaluated_on" DATE NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "signed_at" TIMESTAMPTZ(3) NOT NULL,
    "body" JSONB NOT NULL,
    "jws" TEXT NOT NULL,
    "key_id" TEXT NOT NULL,

    CONSTRAINT "shared_report_pkey" PRIMARY KEY ("clinic_id","id","report_version")
);

CREATE INDEX "report_share_clinic_id_report_id_idx" ON "report_share"("clinic_id", "report_id");

CREATE INDEX "report_share_team_id_appears_at_idx" ON "report_share"("team_id", "appears_at");

CREATE UNIQUE INDEX "report_share_clinic_id_consent_id_report_id_key" ON "report_share"("clinic_id", "consent_id", "report_id");

CREATE INDEX "shared_report_team_id_clinic_id_consent_id_idx" ON "shared_report"("team_id", "clinic_id", "consent_id");

ALTER TABLE "consent" ADD CONSTRAINT "consent_clinic_id_episode_id_fkey" FOREIGN KEY ("clinic_id", "episode_id") REFERENCES "episode"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "team_invitation" ADD CONSTRAINT "team_invitation_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "team_invitation" ADD CONSTRAINT "team_invitation_team_id_fkey" FOREIGN KEY ("team_id") REFERENCES "team"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "report_share" ADD CONSTRAINT "report_share_team_id_fkey" FOREIGN KEY ("team_id") REFERENCES "team"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "shared_report" ADD CONSTRAINT "shared_report_clinic_id_id_fkey" FOREIGN KEY ("clinic_id", "id") REFERENCES "report_share"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "shared_report" ADD CONSTRAINT "shared_report_clinic_id_consent_id_fkey" FOREIGN KEY ("clinic_id", "consent_id") REFERENCES "consent"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- ================================================================ Locks

alter table team_invitation enable row level security;
alter table team_invitation force row level security;
create policy team_invitation_clinic on team_invitation
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));

-- What a team reads has two policies, one for each side. The clinic's is not for the role of the teams: policies are
-- joined by OR, and that role could set app.clinic_id as well as anyone.
alter table report_share enable row level security;
alter table report_share force row level security;
create policy report_share_clinic on report_share to limb_ledger_app, limb_ledger_owner
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table shared_report enable row level security;
alter table shared_report force row level security;
create policy shared_report_clinic on shared_report to limb_ledger_app, limb_ledger_owner
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter policy consent_clinic on consent to limb_ledger_app, limb_ledger_owner;

-- A team reads the consents to itself that are in force now and name the purpose it gives.
create policy consent_team on consent for select to limb_ledger_team
  using (team_id = (select nullif(current_setting('app.team_id', true), '')::uuid)
    and (select nullif(current_setting('app.purpose', true), '')) = any (purposes)
    and revoked_at is null and valid_from <= now() and valid_until > now());
-- That something was there, and when it went: also after the consent, or the team would not learn of its end.
create policy report_share_team on report_share for select to limb_ledger_team
  using (team_id = (select nullif(current_setting('app.team_id', true), '')::uuid) and appears_at <= now());
-- What it says: only while it is there, in the version that is there, under a consent that the policy above lets through.
create policy shared_report_team on shared_report for select to limb_ledger_team
  using (team_id = (select nullif(current_setting('app.team_id', true), '')::uuid)
    and exists (select from consent c where c.clinic_id = shared_report.clinic_id and c.id = shared_report.consent_id)
    and exists (select from report_share s where s.clinic_id = shared_report.clinic_id and s.id = shared_report.id
      and s.report_version = shared_report.report_version and s.gone_at > now()));

grant select, insert on team_invitation, report_share, shared_report to limb_ledger_app;
grant update (report_version, appears_at, gone_at) on report_share to limb_ledger_app;
grant update (revoked_by, revoked_reason) on consent to limb_ledger_app;
grant update (retired_by, retired_reason) on criteria_set to limb_ledger_app;
grant update (withdrawn_by) on report to limb_ledger_app;

-- All that the role of the teams can read. Not among it: whose consent it is, who recorded it, which report it is.
grant select (clinic_id, id, team_id, level, team_reference, display_name, purposes, valid_from, valid_until, until_on)
  on consent to limb_ledger_team;
grant select (clinic_id, id, team_id, report_version, appears_at, gone_at) on report_share to limb_ledger_team;
grant select (clinic_id, id, report_version, team_id, consent_id, level, evaluated_on, expires_at, signed_at, body, jws, key_id)
  on shared_report to limb_ledger_team;

-- ================================================================ Words and bounds

alter table report add constraint report_decision_words
  check (decision in ('continue_rehabilitation', 'progress_stage', 'participate_with_limits', 'other'));
alter table report add constraint report_withdrawn_whole
  check ((state = 'withdrawn') = (withdrawn_at is not null) and (withdrawn_at is null) = (withdrawn_by is null));
alter table report add constraint report_version_from_one check (version >= 1 and (version = 1) = (reason is null));
alter table consent add constraint consent_period check (valid_from < valid_until and from_on <= until_on);
alter table consent add constraint consent_purposes_named check (cardinality(purposes) > 0);
alter table consent add constraint consent_revocation_whole
  check ((revoked_at is null) = (revoked_by is null) and (revoked_at is null) = (revoked_reason is null));
alter table shared_report add constraint shared_report_level_words check (level in ('status', 'criteria', 'measures'));

-- ================================================================ Functions

-- The name of a team that a clinic was given the id of; ids are random, so that none can be found by trying.
create function find_team(p_team uuid) returns table (name text)
language sql stable security definer set search_path = pg_catalog, public, pg_temp as $$
  select t.name from team t where t.id = p_team;
$$;

-- What became of the evidence of an evaluation since: of it superseded by an amendment or withdrawal, or followed by a
-- newer test of the same episode (or, pushed without one, of the same joint).
create function evaluation_currency(p_evaluation uuid) returns table (affected boolean, newer_test boolean)
language sql stable set search_path = pg_catalog, public, pg_temp as $$
  select
    exists (
      select from evaluation_basis b where b.clinic_id = e.clinic_id and b.evaluation_id = e.id and (
        exists (select from set_result r where r.clinic_id = b.clinic_id and r.id = b.result_id and not r.is_current)
        or exists (select from functional_result f where f.clinic_id = b.clinic_id and f.id = b.result_id and f.superseded_at is not null)
        or exists (select from clinician_observation o where o.clinic_id = b.clinic_id and o.id = b.result_id and o.superseded_at is not null))),
    exists (
      select from session n
      where n.clinic_id = e.clinic_id and n.subject_id = p.subject_id and n.status <> 'entered_in_error'
        and n.tested_at > e.evidence_until
        and (n.episode_id = e.episode_id or n.episode_id is null and exists (
          select from set_result r where r.clinic_id = n.clinic_id and r.session_id = n.id and r.is_current
            and split_part(r.series, '/', 1) = v.joint)))
  from evaluation e
  join episode p on p.clinic_id = e.clinic_id and p.id = e.episode_id
  join episode_version v on v.clinic_id = e.clinic_id and v.episode_id = e.episode_id and v.superseded_at is null
  where e.clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid) and e.id = p_evaluation;
$$;

-- The same two words on what one clinic shares with the team that asks, and nothing else of what they are found in.
create function shared_report_currency(p_clinic uuid) returns table (id uuid, affected boolean, newer_test boolean)
language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
declare
  v_team uuid := nullif(current_setting('app.team_id', true), '')::uuid;
begin
  perform set_config('app.clinic_id', p_clinic::text, true);
  return query
    select s.id, c.affected, c.newer_test
    from report_share s
    join report r on r.clinic_id = s.clinic_id and r.id = s.report_id and r.version = s.report_version
    cross join lateral evaluation_currency(r.evaluation_id) c
    where s.clinic_id = p_clinic and s.team_id = v_team and s.appears_at <= now() and s.gone_at > now();
  perform set_config('app.clinic_id', '', true);
end $$;

-- The event of a pull, in the log of the clinic whose data it showed. Which subjects that were is looked up here: the
-- role of the teams has no way to know, and none to write anything else into a clinic's log.
create function append_team_event(
  p_clinic uuid, p_event uuid, p_principal uuid, p_client text, p_purpose text, p_action text, p_request_id text,
  p_shares uuid[], p_details jsonb
) returns void
language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
declare
  v_team uuid := nullif(current_setting('app.team_id', true), '')::uuid;
  v_at timestamptz := clock_timestamp();
  v_subjects uuid[];
begin
  perform set_config('app.clinic_id', p_clinic::text, true);
  if not exists (select from consent c where c.clinic_id = p_clinic and c.team_id = v_team) then
    raise exception 'this team has no consent in this clinic';
  end if;
  select coalesce(array_agg(distinct c.subject_id order by c.subject_id), '{}') into v_subjects
  from report_share s join consent c on c.clinic_id = s.clinic_id and c.id = s.consent_id
  where s.clinic_id = p_clinic and s.team_id = v_team and s.id = any (p_shares);
  insert into audit_event (clinic_id, id, at, actor_principal_id, actor_role, client, purpose, action, outcome, request_id,
                           subject_ids, resource_ids, details)
  values (p_clinic, p_event, v_at, p_principal, 'team_reader', p_client, p_purpose, p_action, 'done', p_request_id, v_subjects,
          jsonb_build_array('team/' || v_team) || coalesce((select jsonb_agg('shared_report/' || s) from unnest(p_shares) s), '[]'),
          p_details);
  insert into audit_disclosure (clinic_id, subject_id, event_id, at)
  select p_clinic, s, p_event, v_at from unnest(v_subjects) s;
  perform set_config('app.clinic_id', '', true);
end $$;

revoke all on function find_team(uuid), evaluation_currency(uuid), shared_report_currency(uuid),
  append_team_event(uuid, uuid, uuid, text, text, text, text, uuid[], jsonb) from public;
grant execute on function find_team(uuid), evaluation_currency(uuid) to limb_ledger_app;
grant execute on function shared_report_currency(uuid),
  append_team_event(uuid, uuid, uuid, text, text, text, text, uuid[], jsonb) to limb_ledger_team;
