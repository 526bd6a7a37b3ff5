-- Pinned reference setups, plans of a test, and a clinic's own rules of comparability. Tables first, as Prisma says them;
-- then what Prisma cannot say: row-level security, grants, CHECKs, partial indexes.
-- Runs as limb_ledger_owner (no login).

CREATE TABLE "reference_setup" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "joint" TEXT NOT NULL,
    "side" TEXT NOT NULL,
    "dynamometer_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "setup_id" UUID NOT NULL,
    "reason" TEXT NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "reference_setup_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "test_plan" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "joint" TEXT NOT NULL,
    "side" TEXT NOT NULL,
    "dynamometer_id" UUID NOT NULL,
    "planned_on" DATE NOT NULL,
    "document" JSONB NOT NULL,
    "broken_precautions" JSONB NOT NULL,
    "precaution_reason" TEXT,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "test_plan_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "comparability_overrides" (
    "clinic_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "comparability_overrides_pkey" PRIMARY KEY ("clinic_id","version")
);

CREATE UNIQUE INDEX "reference_setup_clinic_id_subject_id_joint_side_dynamometer_key" ON "reference_setup"("clinic_id", "subject_id", "joint", "side", "dynamometer_id", "version");

CREATE INDEX "test_plan_clinic_id_subject_id_joint_side_recorded_at_idx" ON "test_plan"("clinic_id", "subject_id", "joint", "side", "recorded_at");

ALTER TABLE "reference_setup" ADD CONSTRAINT "reference_setup_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "reference_setup" ADD CONSTRAINT "reference_setup_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "reference_setup" ADD CONSTRAINT "reference_setup_clinic_id_setup_id_fkey" FOREIGN KEY ("clinic_id", "setup_id") REFERENCES "setup"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "test_plan" ADD CONSTRAINT "test_plan_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "test_plan" ADD CONSTRAINT "test_plan_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "comparability_overrides" ADD CONSTRAINT "comparability_overrides_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- ================================================================ Locks

alter table reference_setup enable row level security;
alter table reference_setup force row level security;
create policy reference_setup_clinic on reference_setup
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table test_plan enable row level security;
alter table test_plan force row level security;
create policy test_plan_clinic on test_plan
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table comparability_overrides enable row level security;
alter table comparability_overrides force row level security;
create policy comparability_overrides_clinic on comparability_overrides
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));

grant select, insert on reference_setup, test_plan, comparability_overrides to limb_ledger_app;
grant update (superseded_at) on reference_setup to limb_ledger_app;

alter table reference_setup add constraint reference_setup_side_words check (side in ('left', 'right'));
alter table reference_setup add constraint reference_setup_version_from_one check (version >= 1);
alter table test_plan add constraint test_plan_side_words check (side in ('left', 'right'));
-- A plan that breaks a precaution is kept with a clinician's reason or not at all.
alter table test_plan add constraint test_plan_reason_for_broken
  check (jsonb_array_length(broken_precautions) = 0 or precaution_reason is not null);
alter table comparability_overrides add constraint comparability_overrides_version_from_one check (version >= 1);

-- One pinned setup in force for a limb on a machine.
create unique index reference_setup_one_current on reference_setup (clinic_id, subject_id, joint, side, dynamometer_id)
  where superseded_at is null;
-- The few visits that repeat another one, found without opening every document.
create index session_version_repeats on session_version (clinic_id, subject_id)
  where superseded_at is null and document ->> 'purpose' = 'repeat_test';
