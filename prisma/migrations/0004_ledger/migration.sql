-- Erasure of one person, legal holds that forbid it, and the sealer's question which clinics wait for it. Tables first, as
-- Prisma says them; then what Prisma cannot say: row-level security, grants, CHECKs, functions.
-- Runs as limb_ledger_owner (no login).

CREATE TABLE "legal_hold" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "reason" TEXT NOT NULL,
    "placed_by" UUID NOT NULL,
    "placed_at" TIMESTAMPTZ(3) NOT NULL,
    "released_by" UUID,
    "released_at" TIMESTAMPTZ(3),
    "released_reason" TEXT,

    CONSTRAINT "legal_hold_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "erasure" (
    "clinic_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "ground" TEXT NOT NULL,
    "erased_by" UUID NOT NULL,
    "erased_at" TIMESTAMPTZ(3) NOT NULL,
    "erased_rows" JSONB NOT NULL,

    CONSTRAINT "erasure_pkey" PRIMARY KEY ("clinic_id","subject_id")
);

-- A key is destroyed by removing its row; a row without a key would only say that there was one.
ALTER TABLE "subject_key" DROP COLUMN "destroyed_at",
ALTER COLUMN "wrapped_key" SET NOT NULL;

CREATE INDEX "legal_hold_clinic_id_subject_id_idx" ON "legal_hold"("clinic_id", "subject_id");

-- Removing a row looks up every table that refers to it; without these, in all rows of the clinic.
CREATE INDEX "test_set_clinic_id_recording_sha_idx" ON "test_set"("clinic_id", "recording_sha");

CREATE INDEX "test_set_clinic_id_setup_id_idx" ON "test_set"("clinic_id", "setup_id");

CREATE INDEX "flag_clinic_id_result_id_idx" ON "flag"("clinic_id", "result_id");

CREATE INDEX "reference_setup_clinic_id_setup_id_idx" ON "reference_setup"("clinic_id", "setup_id");

ALTER TABLE "legal_hold" ADD CONSTRAINT "legal_hold_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "erasure" ADD CONSTRAINT "erasure_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- ================================================================ Locks

alter table legal_hold enable row level security;
alter table legal_hold force row level security;
create policy legal_hold_clinic on legal_hold
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table erasure enable row level security;
alter table erasure force row level security;
create policy erasure_clinic on erasure
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));

grant select, insert on legal_hold to limb_ledger_app;
grant update (released_by, released_at, released_reason) on legal_hold to limb_ledger_app;
-- Written by erase_subject alone.
grant select on erasure to limb_ledger_app;
revoke update (wrapped_key) on subject_key from limb_ledger_app;

alter table legal_hold add constraint legal_hold_released_whole
  check ((released_at is null) = (released_by is null) and (released_at is null) = (released_reason is null));
alter table erasure add constraint erasure_ground_words
  check (ground in ('subject_request', 'consent_withdrawn', 'no_longer_necessary', 'unlawful_processing', 'legal_obligation'));
-- Version, IV, encrypted key, tag.
alter table subject_key add constraint subject_key_wrapped_size check (octet_length(wrapped_key) = 61);

-- ================================================================ Functions

-- The one way to remove what is kept about a person: one subject of the clinic that the transaction is set to, whole or
-- not at all, never while a legal hold is in force. The service itself may delete none of these rows. Row-level security
-- binds the owner of this function as it binds everyone, so another clinic's subject is not found.
-- Null: there is no such subject. Otherwise how many rows went, by kind.
-- What stays: the ledger's events, which hold ids and code words (their texts about the person become unreadable with
-- subject_key); report_share, by which a team learns that what it could read is gone; comparability_key, which describes positions of a machine and is nobody's once no result points at it.
create function erase_subject(p_subject uuid, p_ground text, p_erased_by uuid, p_erased_at timestamptz) returns jsonb
language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
declare
  v_clinic uuid := nullif(current_setting('app.clinic_id', true), '')::uuid;
  v_episodes uuid[];
  v_sessions uuid[];
  v_setups uuid[];
  v_sets uuid[];
  v_recordings bytea[];
  v_evaluations uuid[];
  v_reports uuid[];
  v_shares uuid[];
  v_count bigint;
  v_erased jsonb := '{}';
begin
  -- Waits for every write that has this subject in hand; one that comes later finds nobody.
  perform from subject where clinic_id = v_clinic and id = p_subject for update;
  if not found then return null; end if;
  if exists (select from legal_hold where clinic_id = v_clinic and subject_id = p_subject and released_at is null) then
    raise exception 'a legal hold is in force' using errcode = 'LL001';
  end if;

  v_episodes := array(select id from episode where clinic_id = v_clinic and subject_id = p_subject);
  -- The sessions that are this person's now, with every version: one filed under somebody else before held this
  -- person's data. Of a session that is somebody else's now, only the versions that were filed under this person.
  v_sessions := array(select id from session where clinic_id = v_clinic and subject_id = p_subject);
  v_setups := array(
    select s.id from setup s join session_version v
      on v.clinic_id = s.clinic_id and v.session_id = s.session_id and v.version = s.session_version
    where v.clinic_id = v_clinic and (v.session_id = any (v_sessions) or v.subject_id = p_subject));
  v_sets := array(
    select t.id from test_set t join session_version v
      on v.clinic_id = t.clinic_id and v.session_id = t.session_id and v.version = t.session_version
    where v.clinic_id = v_clinic and (v.session_id = any (v_sessions) or v.subject_id = p_subject));
  v_recordings := array(
    select distinct recording_sha from test_set
    where clinic_id = v_clinic and id = any (v_sets) and recording_sha is not null);
  v_evaluations := array(select id from evaluation where clinic_id = v_clinic and episode_id = any (v_episodes));
  v_reports := array(
    select distinct id from report
    where clinic_id = v_clinic and (subject_id = p_subject or evaluation_id = any (v_evaluations)));

  -- What teams could still read goes at once; that it is gone stays, by random ids, so that they learn of it.
  v_shares := array(select id from report_share where clinic_id = v_clinic and report_id = any (v_reports));
  update report_share set gone_at = least(gone_at, date_trunc('milliseconds', now()))
    where clinic_id = v_clinic and id = any (v_shares);
  delete from shared_report where clinic_id = v_clinic and id = any (v_shares);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('sharedReports', v_count);
  delete from report_projection where clinic_id = v_clinic and report_id = any (v_reports);
  delete from report where clinic_id = v_clinic and id = any (v_reports);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('reports', v_count);
  delete from evaluation_basis where clinic_id = v_clinic and evaluation_id = any (v_evaluations);
  delete from evaluation where clinic_id = v_clinic and id = any (v_evaluations);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('evaluations', v_count);
  delete from consent where clinic_id = v_clinic and subject_id = p_subject;
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('consents', v_count);

  delete from reference_setup where clinic_id = v_clinic and (subject_id = p_subject or setup_id = any (v_setups));
  delete from test_plan where clinic_id = v_clinic and subject_id = p_subject;
  delete from flag where clinic_id = v_clinic and (subject_id = p_subject or session_id = any (v_sessions));
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('flags', v_count);
  delete from set_result where clinic_id = v_clinic and set_id = any (v_sets);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('results', v_count);
  delete from analysis where clinic_id = v_clinic and set_id = any (v_sets);
  delete from test_set where clinic_id = v_clinic and id = any (v_sets);
  delete from setup where clinic_id = v_clinic and id = any (v_setups);
  delete from functional_result
    where clinic_id = v_clinic and (subject_id = p_subject or session_id = any (v_sessions));
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('functionalResults', v_count);
  delete from session_version where clinic_id = v_clinic and (session_id = any (v_sessions) or subject_id = p_subject);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('sessionVersions', v_count);
  delete from session where clinic_id = v_clinic and id = any (v_sessions);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('sessions', v_count);
  -- The same samples may be somebody else's as well.
  delete from recording_blob b where clinic_id = v_clinic and sha256 = any (v_recordings)
    and not exists (select from test_set t where t.clinic_id = v_clinic and t.recording_sha = b.sha256);
  delete from recording r where clinic_id = v_clinic and sha256 = any (v_recordings)
    and not exists (select from test_set t where t.clinic_id = v_clinic and t.recording_sha = r.sha256);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('recordings', v_count);

  delete from clinician_observation where clinic_id = v_clinic and episode_id = any (v_episodes);
  delete from episode_version where clinic_id = v_clinic and episode_id = any (v_episodes);
  delete from episode where clinic_id = v_clinic and id = any (v_episodes);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('episodes', v_count);

  delete from idempotency where clinic_id = v_clinic and p_subject = any (subject_ids);
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('keptAnswers', v_count);
  delete from legal_hold where clinic_id = v_clinic and subject_id = p_subject;
  delete from subject_key where clinic_id = v_clinic and subject_id = p_subject;
  delete from subject_identifier where clinic_id = v_clinic and subject_id = p_subject;
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('identifiers', v_count);
  delete from subject_version where clinic_id = v_clinic and subject_id = p_subject;
  get diagnostics v_count = row_count;
  v_erased := v_erased || jsonb_build_object('subjectVersions', v_count);
  delete from subject where clinic_id = v_clinic and id = p_subject;

  insert into erasure (clinic_id, subject_id, ground, erased_by, erased_at, erased_rows)
  values (v_clinic, p_subject, p_ground, p_erased_by, p_erased_at, v_erased);
  return v_erased;
end $$;

-- Which clinics have events that can be sealed now; one question for all of them, since most are quiet most of the time.
-- It learns their ids and nothing else. A clinic that came from another cluster, or was never sealed, always answers.
create function sealer_clinics_waiting() returns setof uuid
language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
declare
  v_clinic uuid;
  v_through jsonb;
  v_cluster text := (select system_identifier::text from pg_control_system());
  v_finished xid8 := pg_snapshot_xmin(pg_current_snapshot());
begin
  for v_clinic in select id from clinic order by id loop
    perform set_config('app.clinic_id', v_clinic::text, true);
    select frontier -> 'through' into v_through from tree_head
      where clinic_id = v_clinic order by epoch desc, size desc limit 1;
    if not found or v_through ->> 'cluster' is distinct from v_cluster or exists (
      select from audit_event e
      where e.clinic_id = v_clinic and e.xid < v_finished
        and (e.xid, e.ord) > ((v_through ->> 'xid')::xid8, (v_through ->> 'ord')::bigint)
    ) then
      return next v_clinic;
    end if;
  end loop;
  perform set_config('app.clinic_id', '', true);
end $$;

revoke all on function erase_subject(uuid, text, uuid, timestamptz) from public;
revoke all on function sealer_clinics_waiting() from public;
grant execute on function erase_subject(uuid, text, uuid, timestamptz) to limb_ledger_app;
grant execute on function sealer_clinics_waiting() to limb_ledger_sealer;
