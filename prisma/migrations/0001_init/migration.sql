-- The first tables with their locks. The statements down to "Locks" are what Prisma Migrate makes of schema.prisma;
-- what follows is what Prisma cannot say: row-level security, CHECKs, grants, functions, partial and covering indexes.
-- Runs as limb_ledger_owner (no login). The login roles are made outside migrations, since roles belong to the cluster.

CREATE TABLE "clinic" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "time_zone" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "clinic_pkey" PRIMARY KEY ("id")
);

CREATE TABLE "clinic_issuer" (
    "clinic_id" UUID NOT NULL,
    "issuer" TEXT NOT NULL,

    CONSTRAINT "clinic_issuer_pkey" PRIMARY KEY ("clinic_id","issuer")
);

CREATE TABLE "principal" (
    "id" UUID NOT NULL,
    "issuer" TEXT NOT NULL,
    "sub" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "principal_pkey" PRIMARY KEY ("id")
);

CREATE TABLE "membership" (
    "clinic_id" UUID NOT NULL,
    "principal_id" UUID NOT NULL,
    "role" TEXT NOT NULL,
    "display_name" TEXT NOT NULL,
    "licence" TEXT,
    "valid_from" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "valid_until" TIMESTAMPTZ(3),

    CONSTRAINT "membership_pkey" PRIMARY KEY ("clinic_id","principal_id")
);

CREATE TABLE "security_event" (
    "slot" INTEGER NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "request_id" TEXT NOT NULL,
    "code" TEXT NOT NULL,
    "route" TEXT,
    "issuer" TEXT,

    CONSTRAINT "security_event_pkey" PRIMARY KEY ("slot")
);

CREATE TABLE "team" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "team_pkey" PRIMARY KEY ("id")
);

CREATE TABLE "team_member" (
    "team_id" UUID NOT NULL,
    "principal_id" UUID NOT NULL,
    "display_name" TEXT NOT NULL,
    "valid_until" TIMESTAMPTZ(3),

    CONSTRAINT "team_member_pkey" PRIMARY KEY ("team_id","principal_id")
);

CREATE TABLE "member_identifier" (
    "clinic_id" UUID NOT NULL,
    "system" TEXT NOT NULL,
    "value" TEXT NOT NULL,
    "principal_id" UUID NOT NULL,

    CONSTRAINT "member_identifier_pkey" PRIMARY KEY ("clinic_id","system","value")
);

CREATE TABLE "subject" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "subject_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "subject_version" (
    "clinic_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "birth_date" DATE,
    "sex" TEXT NOT NULL,
    "height_m" DOUBLE PRECISION,
    "document" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "subject_version_pkey" PRIMARY KEY ("clinic_id","subject_id","version")
);

CREATE TABLE "subject_identifier" (
    "clinic_id" UUID NOT NULL,
    "system" TEXT NOT NULL,
    "value" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,

    CONSTRAINT "subject_identifier_pkey" PRIMARY KEY ("clinic_id","system","value")
);

CREATE TABLE "subject_key" (
    "clinic_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "wrapped_key" BYTEA,
    "kek_id" TEXT NOT NULL,
    "destroyed_at" TIMESTAMPTZ(3),

    CONSTRAINT "subject_key_pkey" PRIMARY KEY ("clinic_id","subject_id")
);

CREATE TABLE "episode" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "ext_system" TEXT,
    "ext_value" TEXT,
    "doc_hash" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "episode_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "episode_version" (
    "clinic_id" UUID NOT NULL,
    "episode_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "joint" TEXT NOT NULL,
    "involved_side" TEXT NOT NULL,
    "status" TEXT NOT NULL,
    "injury_on" DATE,
    "surgery_on" DATE,
    "criteria_key" TEXT,
    "criteria_version" INTEGER,
    "baseline_session_id" UUID,
    "document" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "episode_version_pkey" PRIMARY KEY ("clinic_id","episode_id","version")
);

CREATE TABLE "clinician_observation" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "episode_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "value" TEXT NOT NULL,
    "observed_on" DATE NOT NULL,
    "note" TEXT,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "clinician_observation_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "dynamometer" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "ext_system" TEXT,
    "ext_value" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "dynamometer_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "dynamometer_description" (
    "clinic_id" UUID NOT NULL,
    "dynamometer_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "doc_hash" BYTEA NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "dynamometer_description_pkey" PRIMARY KEY ("clinic_id","dynamometer_id","version")
);

CREATE TABLE "calibration_check" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "dynamometer_id" UUID NOT NULL,
    "checked_at" TIMESTAMPTZ(3) NOT NULL,
    "expected_torque_nm" DOUBLE PRECISION NOT NULL,
    "read_torque_nm" DOUBLE PRECISION NOT NULL,
    "next_due_on" DATE,
    "document" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "calibration_check_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "session" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "status" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "episode_id" UUID,
    "dynamometer_id" UUID,
    "tested_at" TIMESTAMPTZ(3) NOT NULL,
    "ext_system" TEXT,
    "ext_value" TEXT,
    "doc_hash" BYTEA NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "session_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "session_version" (
    "clinic_id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "kind" TEXT NOT NULL,
    "reason" TEXT,
    "subject_id" UUID NOT NULL,
    "episode_id" UUID,
    "dynamometer_id" UUID,
    "description_version" INTEGER,
    "operator_id" UUID,
    "tested_at" TIMESTAMPTZ(3) NOT NULL,
    "started_at" TEXT NOT NULL,
    "body_mass_kg" DOUBLE PRECISION,
    "document" JSONB NOT NULL,
    "doc_hash" BYTEA NOT NULL,
    "visit_facts" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "session_version_pkey" PRIMARY KEY ("clinic_id","session_id","version")
);

CREATE TABLE "setup" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "session_version" INTEGER NOT NULL,
    "key" TEXT NOT NULL,
    "joint" TEXT NOT NULL,
    "side" TEXT NOT NULL,
    "document" JSONB NOT NULL,
    "findings" JSONB NOT NULL,
    "gravity_moment_nm" DOUBLE PRECISION,

    CONSTRAINT "setup_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "recording" (
    "clinic_id" UUID NOT NULL,
    "sha256" BYTEA NOT NULL,
    "header" JSONB NOT NULL,
    "sample_count" INTEGER NOT NULL,
    "sample_rate_hz" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "recording_pkey" PRIMARY KEY ("clinic_id","sha256")
);

CREATE TABLE "recording_blob" (
    "clinic_id" UUID NOT NULL,
    "sha256" BYTEA NOT NULL,
    "bytes" BYTEA NOT NULL,

    CONSTRAINT "recording_blob_pkey" PRIMARY KEY ("clinic_id","sha256")
);

CREATE TABLE "test_set" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "session_version" INTEGER NOT NULL,
    "setup_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "ordinal" INTEGER NOT NULL,
    "side" TEXT NOT NULL,
    "recording_sha" BYTEA,
    "reported" JSONB,

    CONSTRAINT "test_set_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "comparability_key" (
    "clinic_id" UUID NOT NULL,
    "hash" BYTEA NOT NULL,
    "facts" JSONB NOT NULL,

    CONSTRAINT "comparability_key_pkey" PRIMARY KEY ("clinic_id","hash")
);

CREATE TABLE "analysis" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "set_id" UUID NOT NULL,
    "compute_version" TEXT NOT NULL,
    "params_hash" BYTEA NOT NULL,
    "params" JSONB NOT NULL,
    "method" JSONB NOT NULL,
    "findings" JSONB NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "analysis_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "set_result" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "analysis_id" UUID NOT NULL,
    "set_id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "session_version" INTEGER NOT NULL,
    "movement" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "series" TEXT NOT NULL,
    "side" TEXT NOT NULL,
    "origin" TEXT NOT NULL,
    "is_current" BOOLEAN NOT NULL,
    "tested_at" TIMESTAMPTZ(3) NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),
    "comparability_hash" BYTEA NOT NULL,
    "body_mass_kg" DOUBLE PRECISION,
    "n_counted" INTEGER,
    "peak_torque_nm" DOUBLE PRECISION,
    "mean_peak_torque_nm" DOUBLE PRECISION,
    "peak_torque_cv_percent" DOUBLE PRECISION,
    "angle_of_peak_torque_deg" DOUBLE PRECISION,
    "work_per_repetition_j" DOUBLE PRECISION,
    "total_work_j" DOUBLE PRECISION,
    "average_power_w" DOUBLE PRECISION,
    "range_of_motion_deg" DOUBLE PRECISION,
    "load_range_deg" DOUBLE PRECISION,
    "measures" JSONB NOT NULL,
    "repetitions" JSONB NOT NULL,

    CONSTRAINT "set_result_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "functional_result" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "session_version" INTEGER NOT NULL,
    "subject_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "test" TEXT NOT NULL,
    "side" TEXT,
    "value" DOUBLE PRECISION,
    "unit" TEXT NOT NULL,
    "form_version" TEXT,
    "observation" TEXT,
    "document" JSONB NOT NULL,
    "performed_at" TIMESTAMPTZ(3) NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),

    CONSTRAINT "functional_result_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "flag" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "session_id" UUID NOT NULL,
    "result_id" UUID,
    "code" TEXT NOT NULL,
    "level" TEXT NOT NULL,
    "pointer" TEXT NOT NULL,
    "message" TEXT NOT NULL,
    "effect" TEXT NOT NULL,
    "evidence" JSONB NOT NULL,
    "status" TEXT NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "superseded_at" TIMESTAMPTZ(3),
    "resolved_by" UUID,
    "resolved_at" TIMESTAMPTZ(3),
    "resolved_reason" TEXT,

    CONSTRAINT "flag_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "measurement_error" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "series" TEXT NOT NULL,
    "measure" TEXT NOT NULL,
    "scale" TEXT NOT NULL,
    "sem" DOUBLE PRECISION NOT NULL,
    "degrees_of_freedom" INTEGER NOT NULL,
    "pairs" INTEGER NOT NULL,
    "mean_shift_detected" BOOLEAN NOT NULL,
    "limb_condition" TEXT NOT NULL,
    "source" TEXT NOT NULL,
    "document" JSONB NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "measurement_error_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "criteria_set" (
    "clinic_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "version" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "doc_hash" BYTEA NOT NULL,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "retired_at" TIMESTAMPTZ(3),

    CONSTRAINT "criteria_set_pkey" PRIMARY KEY ("clinic_id","key","version")
);

CREATE TABLE "evaluation" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "episode_id" UUID NOT NULL,
    "effective_on" DATE NOT NULL,
    "known_at" TIMESTAMPTZ(3) NOT NULL,
    "document" JSONB NOT NULL,
    "doc_hash" BYTEA NOT NULL,

    CONSTRAINT "evaluation_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "evaluation_basis" (
    "clinic_id" UUID NOT NULL,
    "evaluation_id" UUID NOT NULL,
    "result_id" UUID NOT NULL,

    CONSTRAINT "evaluation_basis_pkey" PRIMARY KEY ("clinic_id","evaluation_id","result_id")
);

CREATE TABLE "report" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "evaluation_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "state" TEXT NOT NULL,
    "decision" TEXT NOT NULL,
    "note" TEXT,
    "signer_id" UUID NOT NULL,
    "signed_at" TIMESTAMPTZ(3) NOT NULL,
    "expires_on" DATE NOT NULL,
    "withdrawn_at" TIMESTAMPTZ(3),
    "withdrawn_reason" TEXT,

    CONSTRAINT "report_pkey" PRIMARY KEY ("clinic_id","id","version")
);

CREATE TABLE "report_projection" (
    "clinic_id" UUID NOT NULL,
    "report_id" UUID NOT NULL,
    "report_version" INTEGER NOT NULL,
    "level" TEXT NOT NULL,
    "salt" BYTEA NOT NULL,
    "body" JSONB NOT NULL,
    "jws" TEXT NOT NULL,
    "key_id" TEXT NOT NULL,

    CONSTRAINT "report_projection_pkey" PRIMARY KEY ("clinic_id","report_id","report_version","level")
);

CREATE TABLE "consent" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "team_id" UUID NOT NULL,
    "team_reference" TEXT NOT NULL,
    "display_name" TEXT NOT NULL,
    "level" TEXT NOT NULL,
    "purposes" TEXT[],
    "valid_from" TIMESTAMPTZ(3) NOT NULL,
    "valid_until" TIMESTAMPTZ(3) NOT NULL,
    "guardian" TEXT,
    "document_reference" TEXT,
    "recorded_by" UUID NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL,
    "revoked_at" TIMESTAMPTZ(3),

    CONSTRAINT "consent_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "idempotency" (
    "clinic_id" UUID NOT NULL,
    "principal_id" UUID NOT NULL,
    "route" TEXT NOT NULL,
    "key" TEXT NOT NULL,
    "body_hash" BYTEA NOT NULL,
    "status" INTEGER NOT NULL,
    "headers" JSONB NOT NULL,
    "response" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "subject_ids" UUID[] DEFAULT ARRAY[]::UUID[],
    "expires_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "idempotency_pkey" PRIMARY KEY ("clinic_id","principal_id","route","key")
);

CREATE TABLE "audit_event" (
    "clinic_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "xid" xid8 NOT NULL DEFAULT pg_current_xact_id(),
    "ord" BIGSERIAL NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT clock_timestamp(),
    "actor_principal_id" UUID,
    "actor_role" TEXT,
    "client" TEXT,
    "purpose" TEXT,
    "action" TEXT NOT NULL,
    "outcome" TEXT NOT NULL,
    "request_id" TEXT NOT NULL,
    "subject_ids" UUID[] DEFAULT ARRAY[]::UUID[],
    "resource_ids" JSONB NOT NULL DEFAULT '[]',
    "details" JSONB NOT NULL DEFAULT '{}',

    CONSTRAINT "audit_event_pkey" PRIMARY KEY ("clinic_id","id")
);

CREATE TABLE "audit_disclosure" (
    "clinic_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "audit_disclosure_pkey" PRIMARY KEY ("clinic_id","subject_id","event_id")
);

CREATE TABLE "audit_leaf" (
    "clinic_id" UUID NOT NULL,
    "epoch" INTEGER NOT NULL,
    "seq" BIGINT NOT NULL,
    "event_id" UUID NOT NULL,
    "canonical" BYTEA NOT NULL,
    "leaf_hash" BYTEA NOT NULL,

    CONSTRAINT "audit_leaf_pkey" PRIMARY KEY ("clinic_id","epoch","seq")
);

CREATE TABLE "tree_head" (
    "clinic_id" UUID NOT NULL,
    "epoch" INTEGER NOT NULL,
    "size" BIGINT NOT NULL,
    "root" BYTEA NOT NULL,
    "frontier" JSONB NOT NULL,
    "signed_at" TIMESTAMPTZ(3) NOT NULL,
    "key_id" TEXT NOT NULL,
    "jws" TEXT NOT NULL,
    "witnessed_at" TIMESTAMPTZ(3) NOT NULL DEFAULT clock_timestamp(),

    CONSTRAINT "tree_head_pkey" PRIMARY KEY ("clinic_id","epoch","size")
);

CREATE UNIQUE INDEX "principal_issuer_sub_key" ON "principal"("issuer", "sub");

CREATE INDEX "subject_identifier_clinic_id_subject_id_idx" ON "subject_identifier"("clinic_id", "subject_id");

CREATE INDEX "episode_clinic_id_subject_id_idx" ON "episode"("clinic_id", "subject_id");

CREATE UNIQUE INDEX "episode_clinic_id_ext_system_ext_value_key" ON "episode"("clinic_id", "ext_system", "ext_value");

CREATE INDEX "clinician_observation_clinic_id_episode_id_key_observed_on_idx" ON "clinician_observation"("clinic_id", "episode_id", "key", "observed_on");

CREATE UNIQUE INDEX "dynamometer_clinic_id_ext_system_ext_value_key" ON "dynamometer"("clinic_id", "ext_system", "ext_value");

CREATE INDEX "calibration_check_clinic_id_dynamometer_id_checked_at_idx" ON "calibration_check"("clinic_id", "dynamometer_id", "checked_at");

CREATE INDEX "session_clinic_id_subject_id_tested_at_idx" ON "session"("clinic_id", "subject_id", "tested_at");

CREATE UNIQUE INDEX "session_clinic_id_ext_system_ext_value_key" ON "session"("clinic_id", "ext_system", "ext_value");

CREATE INDEX "setup_clinic_id_session_id_session_version_idx" ON "setup"("clinic_id", "session_id", "session_version");

CREATE INDEX "test_set_clinic_id_session_id_session_version_idx" ON "test_set"("clinic_id", "session_id", "session_version");

CREATE INDEX "analysis_clinic_id_set_id_idx" ON "analysis"("clinic_id", "set_id");

CREATE INDEX "set_result_clinic_id_set_id_is_current_idx" ON "set_result"("clinic_id", "set_id", "is_current");

CREATE INDEX "set_result_clinic_id_session_id_idx" ON "set_result"("clinic_id", "session_id");

CREATE INDEX "functional_result_clinic_id_subject_id_test_performed_at_idx" ON "functional_result"("clinic_id", "subject_id", "test", "performed_at");

CREATE INDEX "functional_result_clinic_id_session_id_idx" ON "functional_result"("clinic_id", "session_id");

CREATE INDEX "flag_clinic_id_subject_id_idx" ON "flag"("clinic_id", "subject_id");

CREATE INDEX "flag_clinic_id_session_id_idx" ON "flag"("clinic_id", "session_id");

CREATE INDEX "flag_clinic_id_status_recorded_at_idx" ON "flag"("clinic_id", "status", "recorded_at");

CREATE INDEX "measurement_error_clinic_id_series_measure_recorded_at_idx" ON "measurement_error"("clinic_id", "series", "measure", "recorded_at");

CREATE INDEX "evaluation_clinic_id_episode_id_idx" ON "evaluation"("clinic_id", "episode_id");

CREATE INDEX "evaluation_basis_clinic_id_result_id_idx" ON "evaluation_basis"("clinic_id", "result_id");

CREATE INDEX "report_clinic_id_subject_id_idx" ON "report"("clinic_id", "subject_id");

CREATE INDEX "consent_team_id_clinic_id_subject_id_idx" ON "consent"("team_id", "clinic_id", "subject_id");

CREATE INDEX "idempotency_clinic_id_expires_at_idx" ON "idempotency"("clinic_id", "expires_at");

CREATE INDEX "audit_event_clinic_id_at_idx" ON "audit_event"("clinic_id", "at");

CREATE INDEX "audit_event_clinic_id_xid_ord_idx" ON "audit_event"("clinic_id", "xid", "ord");

CREATE UNIQUE INDEX "audit_leaf_clinic_id_event_id_key" ON "audit_leaf"("clinic_id", "event_id");

ALTER TABLE "clinic_issuer" ADD CONSTRAINT "clinic_issuer_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "membership" ADD CONSTRAINT "membership_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "membership" ADD CONSTRAINT "membership_principal_id_fkey" FOREIGN KEY ("principal_id") REFERENCES "principal"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "team_member" ADD CONSTRAINT "team_member_team_id_fkey" FOREIGN KEY ("team_id") REFERENCES "team"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "team_member" ADD CONSTRAINT "team_member_principal_id_fkey" FOREIGN KEY ("principal_id") REFERENCES "principal"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "member_identifier" ADD CONSTRAINT "member_identifier_clinic_id_principal_id_fkey" FOREIGN KEY ("clinic_id", "principal_id") REFERENCES "membership"("clinic_id", "principal_id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "subject" ADD CONSTRAINT "subject_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "subject_version" ADD CONSTRAINT "subject_version_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "subject_identifier" ADD CONSTRAINT "subject_identifier_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "subject_key" ADD CONSTRAINT "subject_key_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "episode" ADD CONSTRAINT "episode_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "episode_version" ADD CONSTRAINT "episode_version_clinic_id_episode_id_fkey" FOREIGN KEY ("clinic_id", "episode_id") REFERENCES "episode"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "clinician_observation" ADD CONSTRAINT "clinician_observation_clinic_id_episode_id_fkey" FOREIGN KEY ("clinic_id", "episode_id") REFERENCES "episode"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "dynamometer" ADD CONSTRAINT "dynamometer_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "dynamometer_description" ADD CONSTRAINT "dynamometer_description_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "calibration_check" ADD CONSTRAINT "calibration_check_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "session" ADD CONSTRAINT "session_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "session" ADD CONSTRAINT "session_clinic_id_episode_id_fkey" FOREIGN KEY ("clinic_id", "episode_id") REFERENCES "episode"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "session" ADD CONSTRAINT "session_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "session_version" ADD CONSTRAINT "session_version_clinic_id_session_id_fkey" FOREIGN KEY ("clinic_id", "session_id") REFERENCES "session"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "setup" ADD CONSTRAINT "setup_clinic_id_session_id_session_version_fkey" FOREIGN KEY ("clinic_id", "session_id", "session_version") REFERENCES "session_version"("clinic_id", "session_id", "version") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "recording_blob" ADD CONSTRAINT "recording_blob_clinic_id_sha256_fkey" FOREIGN KEY ("clinic_id", "sha256") REFERENCES "recording"("clinic_id", "sha256") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "test_set" ADD CONSTRAINT "test_set_clinic_id_session_id_session_version_fkey" FOREIGN KEY ("clinic_id", "session_id", "session_version") REFERENCES "session_version"("clinic_id", "session_id", "version") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "test_set" ADD CONSTRAINT "test_set_clinic_id_setup_id_fkey" FOREIGN KEY ("clinic_id", "setup_id") REFERENCES "setup"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "test_set" ADD CONSTRAINT "test_set_clinic_id_recording_sha_fkey" FOREIGN KEY ("clinic_id", "recording_sha") REFERENCES "recording"("clinic_id", "sha256") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "analysis" ADD CONSTRAINT "analysis_clinic_id_set_id_fkey" FOREIGN KEY ("clinic_id", "set_id") REFERENCES "test_set"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "set_result" ADD CONSTRAINT "set_result_clinic_id_set_id_fkey" FOREIGN KEY ("clinic_id", "set_id") REFERENCES "test_set"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "set_result" ADD CONSTRAINT "set_result_clinic_id_analysis_id_fkey" FOREIGN KEY ("clinic_id", "analysis_id") REFERENCES "analysis"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "set_result" ADD CONSTRAINT "set_result_clinic_id_session_id_fkey" FOREIGN KEY ("clinic_id", "session_id") REFERENCES "session"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "set_result" ADD CONSTRAINT "set_result_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "set_result" ADD CONSTRAINT "set_result_clinic_id_comparability_hash_fkey" FOREIGN KEY ("clinic_id", "comparability_hash") REFERENCES "comparability_key"("clinic_id", "hash") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "functional_result" ADD CONSTRAINT "functional_result_clinic_id_session_id_session_version_fkey" FOREIGN KEY ("clinic_id", "session_id", "session_version") REFERENCES "session_version"("clinic_id", "session_id", "version") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "functional_result" ADD CONSTRAINT "functional_result_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "flag" ADD CONSTRAINT "flag_clinic_id_session_id_fkey" FOREIGN KEY ("clinic_id", "session_id") REFERENCES "session"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "flag" ADD CONSTRAINT "flag_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "flag" ADD CONSTRAINT "flag_clinic_id_result_id_fkey" FOREIGN KEY ("clinic_id", "result_id") REFERENCES "set_result"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "measurement_error" ADD CONSTRAINT "measurement_error_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "criteria_set" ADD CONSTRAINT "criteria_set_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "evaluation" ADD CONSTRAINT "evaluation_clinic_id_episode_id_fkey" FOREIGN KEY ("clinic_id", "episode_id") REFERENCES "episode"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "evaluation_basis" ADD CONSTRAINT "evaluation_basis_clinic_id_evaluation_id_fkey" FOREIGN KEY ("clinic_id", "evaluation_id") REFERENCES "evaluation"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "report" ADD CONSTRAINT "report_clinic_id_evaluation_id_fkey" FOREIGN KEY ("clinic_id", "evaluation_id") REFERENCES "evaluation"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "report" ADD CONSTRAINT "report_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "report_projection" ADD CONSTRAINT "report_projection_clinic_id_report_id_report_version_fkey" FOREIGN KEY ("clinic_id", "report_id", "report_version") REFERENCES "report"("clinic_id", "id", "version") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "consent" ADD CONSTRAINT "consent_clinic_id_subject_id_fkey" FOREIGN KEY ("clinic_id", "subject_id") REFERENCES "subject"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "consent" ADD CONSTRAINT "consent_team_id_fkey" FOREIGN KEY ("team_id") REFERENCES "team"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "idempotency" ADD CONSTRAINT "idempotency_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "audit_event" ADD CONSTRAINT "audit_event_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "audit_disclosure" ADD CONSTRAINT "audit_disclosure_clinic_id_event_id_fkey" FOREIGN KEY ("clinic_id", "event_id") REFERENCES "audit_event"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "audit_leaf" ADD CONSTRAINT "audit_leaf_clinic_id_event_id_fkey" FOREIGN KEY ("clinic_id", "event_id") REFERENCES "audit_event"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "tree_head" ADD CONSTRAINT "tree_head_clinic_id_fkey" FOREIGN KEY ("clinic_id") REFERENCES "clinic"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- ================================================================ Locks

revoke all on schema public from public;
grant usage on schema public to limb_ledger_app, limb_ledger_team, limb_ledger_sealer;

-- Row-level security, fail closed: without app.clinic_id no row is seen and none can be written, owner included.
-- nullif: after a transaction that set it, a pooled connection reads '' and not null.
-- (select ...): evaluated once per query and not once per row.
alter table membership enable row level security;
alter table membership force row level security;
create policy membership_clinic on membership
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table member_identifier enable row level security;
alter table member_identifier force row level security;
create policy member_identifier_clinic on member_identifier
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table subject enable row level security;
alter table subject force row level security;
create policy subject_clinic on subject
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table subject_version enable row level security;
alter table subject_version force row level security;
create policy subject_version_clinic on subject_version
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table subject_identifier enable row level security;
alter table subject_identifier force row level security;
create policy subject_identifier_clinic on subject_identifier
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table subject_key enable row level security;
alter table subject_key force row level security;
create policy subject_key_clinic on subject_key
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table episode enable row level security;
alter table episode force row level security;
create policy episode_clinic on episode
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table episode_version enable row level security;
alter table episode_version force row level security;
create policy episode_version_clinic on episode_version
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table clinician_observation enable row level security;
alter table clinician_observation force row level security;
create policy clinician_observation_clinic on clinician_observation
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table dynamometer enable row level security;
alter table dynamometer force row level security;
create policy dynamometer_clinic on dynamometer
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table dynamometer_description enable row level security;
alter table dynamometer_description force row level security;
create policy dynamometer_description_clinic on dynamometer_description
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table calibration_check enable row level security;
alter table calibration_check force row level security;
create policy calibration_check_clinic on calibration_check
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table session enable row level security;
alter table session force row level security;
create policy session_clinic on session
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table session_version enable row level security;
alter table session_version force row level security;
create policy session_version_clinic on session_version
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table setup enable row level security;
alter table setup force row level security;
create policy setup_clinic on setup
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table recording enable row level security;
alter table recording force row level security;
create policy recording_clinic on recording
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table recording_blob enable row level security;
alter table recording_blob force row level security;
create policy recording_blob_clinic on recording_blob
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table test_set enable row level security;
alter table test_set force row level security;
create policy test_set_clinic on test_set
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table comparability_key enable row level security;
alter table comparability_key force row level security;
create policy comparability_key_clinic on comparability_key
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table analysis enable row level security;
alter table analysis force row level security;
create policy analysis_clinic on analysis
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table set_result enable row level security;
alter table set_result force row level security;
create policy set_result_clinic on set_result
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table functional_result enable row level security;
alter table functional_result force row level security;
create policy functional_result_clinic on functional_result
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table flag enable row level security;
alter table flag force row level security;
create policy flag_clinic on flag
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table measurement_error enable row level security;
alter table measurement_error force row level security;
create policy measurement_error_clinic on measurement_error
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table criteria_set enable row level security;
alter table criteria_set force row level security;
create policy criteria_set_clinic on criteria_set
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table evaluation enable row level security;
alter table evaluation force row level security;
create policy evaluation_clinic on evaluation
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table evaluation_basis enable row level security;
alter table evaluation_basis force row level security;
create policy evaluation_basis_clinic on evaluation_basis
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table report enable row level security;
alter table report force row level security;
create policy report_clinic on report
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table report_projection enable row level security;
alter table report_projection force row level security;
create policy report_projection_clinic on report_projection
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table consent enable row level security;
alter table consent force row level security;
create policy consent_clinic on consent
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table idempotency enable row level security;
alter table idempotency force row level security;
create policy idempotency_clinic on idempotency
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table audit_event enable row level security;
alter table audit_event force row level security;
create policy audit_event_clinic on audit_event
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table audit_disclosure enable row level security;
alter table audit_disclosure force row level security;
create policy audit_disclosure_clinic on audit_disclosure
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table audit_leaf enable row level security;
alter table audit_leaf force row level security;
create policy audit_leaf_clinic on audit_leaf
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
alter table tree_head enable row level security;
alter table tree_head force row level security;
create policy tree_head_clinic on tree_head
  using (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid))
  with check (clinic_id = (select nullif(current_setting('app.clinic_id', true), '')::uuid));
-- Control tables are reached through the functions below alone: no grant, and no policy for whoever gets one by mistake.
alter table clinic enable row level security;
alter table clinic_issuer enable row level security;
alter table principal enable row level security;
alter table security_event enable row level security;
alter table team enable row level security;
alter table team_member enable row level security;

-- ================================================================ Grants: what the service does, column by column

grant select on membership, member_identifier, subject, subject_version, subject_identifier, subject_key, episode, episode_version, clinician_observation, dynamometer, dynamometer_description, calibration_check, session, session_version, setup, recording, recording_blob, test_set, comparability_key, analysis, set_result, functional_result, flag, measurement_error, criteria_set, evaluation, evaluation_basis, report, report_projection, consent, idempotency, audit_event, audit_disclosure, audit_leaf, tree_head
  to limb_ledger_app;
grant insert on subject, subject_version, subject_identifier, subject_key, episode, episode_version, clinician_observation, dynamometer, dynamometer_description, calibration_check, session, session_version, setup, recording, recording_blob, test_set, comparability_key, analysis, set_result, functional_result, flag, measurement_error, criteria_set, evaluation, evaluation_basis, report, report_projection, consent, idempotency, audit_disclosure
  to limb_ledger_app;
grant update (version) on subject to limb_ledger_app;
grant update (superseded_at) on subject_version to limb_ledger_app;
grant update (wrapped_key, destroyed_at) on subject_key to limb_ledger_app;
grant update (version, doc_hash) on episode to limb_ledger_app;
grant update (superseded_at) on episode_version to limb_ledger_app;
grant update (superseded_at) on clinician_observation to limb_ledger_app;
grant update (version) on dynamometer to limb_ledger_app;
grant update (version, status, subject_id, episode_id, dynamometer_id, tested_at, doc_hash) on session to limb_ledger_app;
grant update (superseded_at) on session_version to limb_ledger_app;
grant update (superseded_at) on analysis to limb_ledger_app;
grant update (is_current, superseded_at) on set_result to limb_ledger_app;
grant update (superseded_at) on functional_result to limb_ledger_app;
grant update (status, superseded_at, resolved_by, resolved_at, resolved_reason) on flag to limb_ledger_app;
grant update (retired_at) on criteria_set to limb_ledger_app;
grant update (state, withdrawn_at, withdrawn_reason) on report to limb_ledger_app;
grant update (revoked_at) on consent to limb_ledger_app;
-- The service deletes expired answers and replaced identifiers; everything else is superseded.
grant delete on idempotency, subject_identifier to limb_ledger_app;
-- Without xid and ord: a service that could choose them could hide an event from the sealer for ever.
grant insert (clinic_id, id, at, actor_principal_id, actor_role, client, purpose, action, outcome, request_id, subject_ids, resource_ids, details)
  on audit_event to limb_ledger_app;
grant usage on sequence audit_event_ord_seq to limb_ledger_app;

-- The sealer numbers events; nobody changes or removes one. A head is stored after the witness has it.
grant select on audit_event to limb_ledger_sealer;
grant select, insert on audit_leaf, tree_head to limb_ledger_sealer;

-- ================================================================ Words and bounds
-- PostgreSQL sorts NaN above every number, so both bounds keep it out.

alter table membership add constraint membership_role_words check (role in ('owner', 'clinician', 'assistant', 'integration', 'auditor'));
alter table subject_version add constraint subject_version_sex_words check (sex in ('female', 'male', 'unknown'));
alter table episode_version add constraint episode_version_involved_side_words check (involved_side in ('left', 'right', 'bilateral', 'none'));
alter table episode_version add constraint episode_version_status_words check (status in ('active', 'completed', 'cancelled'));
alter table session add constraint session_status_words check (status in ('final', 'amended', 'entered_in_error'));
alter table session_version add constraint session_version_kind_words check (kind in ('pushed', 'amended', 'entered_in_error'));
alter table setup add constraint setup_side_words check (side in ('left', 'right'));
alter table test_set add constraint test_set_side_words check (side in ('left', 'right'));
alter table set_result add constraint set_result_side_words check (side in ('left', 'right'));
alter table set_result add constraint set_result_origin_words check (origin in ('computed', 'reported'));
alter table functional_result add constraint functional_result_side_words check (side in ('left', 'right'));
alter table flag add constraint flag_level_words check (level in ('note', 'caution', 'hold'));
alter table flag add constraint flag_status_words check (status in ('open', 'confirmed', 'dismissed'));
alter table report add constraint report_state_words check (state in ('signed', 'superseded', 'withdrawn'));
alter table report_projection add constraint report_projection_level_words check (level in ('clinic', 'status', 'criteria', 'measures'));
alter table consent add constraint consent_level_words check (level in ('status', 'criteria', 'measures'));
alter table audit_event add constraint audit_event_outcome_words check (outcome in ('done', 'refused', 'failed'));
alter table subject_version add constraint subject_version_height_m_bounds check (height_m between 0.3 and 2.8);
alter table calibration_check add constraint calibration_check_expected_torque_nm_bounds check (expected_torque_nm between -5000 and 5000);
alter table calibration_check add constraint calibration_check_read_torque_nm_bounds check (read_torque_nm between -5000 and 5000);
alter table session_version add constraint session_version_body_mass_kg_bounds check (body_mass_kg between 2 and 500);
alter table setup add constraint setup_gravity_moment_nm_bounds check (gravity_moment_nm between -500 and 500);
alter table recording add constraint recording_sample_rate_hz_bounds check (sample_rate_hz between 1 and 100000);
alter table recording add constraint recording_sample_count_bounds check (sample_count between 1 and 10000000);
alter table set_result add constraint set_result_body_mass_kg_bounds check (body_mass_kg between 2 and 500);
alter table set_result add constraint set_result_n_counted_bounds check (n_counted between 0 and 100000);
alter table set_result add constraint set_result_peak_torque_nm_bounds check (peak_torque_nm between 0 and 5000);
alter table set_result add constraint set_result_mean_peak_torque_nm_bounds check (mean_peak_torque_nm between 0 and 5000);
alter table set_result add constraint set_result_peak_torque_cv_percent_bounds check (peak_torque_cv_percent between 0 and 1000);
alter table set_result add constraint set_result_angle_of_peak_torque_deg_bounds check (angle_of_peak_torque_deg between -360 and 360);
alter table set_result add constraint set_result_work_per_repetition_j_bounds check (work_per_repetition_j between -100000 and 100000);
alter table set_result add constraint set_result_total_work_j_bounds check (total_work_j between -10000000 and 10000000);
alter table set_result add constraint set_result_average_power_w_bounds check (average_power_w between -100000 and 100000);
alter table set_result add constraint set_result_range_of_motion_deg_bounds check (range_of_motion_deg between 0 and 720);
alter table set_result add constraint set_result_load_range_deg_bounds check (load_range_deg between 0 and 720);
alter table functional_result add constraint functional_result_value_bounds check (value between -1000000 and 1000000);
alter table measurement_error add constraint measurement_error_sem_bounds check (sem between 0 and 100000);
alter table measurement_error add constraint measurement_error_scale_words check (scale in ('absolute', 'percent'));
alter table measurement_error add constraint measurement_error_limb_condition_words check (limb_condition in ('no_history', 'operated', 'injured', 'osteoarthritis', 'unknown'));
alter table measurement_error add constraint measurement_error_pairs_bounds check (pairs between 2 and 1000000);
alter table test_set add constraint test_set_one_source check ((recording_sha is null) <> (reported is null));
alter table episode add constraint episode_external_id_whole check ((ext_system is null) = (ext_value is null));
alter table dynamometer add constraint dynamometer_external_id_whole check ((ext_system is null) = (ext_value is null));
alter table session add constraint session_external_id_whole check ((ext_system is null) = (ext_value is null));
alter table set_result add constraint set_result_current_or_superseded check (is_current = (superseded_at is null));
alter table audit_leaf add constraint audit_leaf_seq_from_one check (seq > 0 and epoch >= 1 and octet_length(leaf_hash) = 32);
alter table tree_head add constraint tree_head_opens_empty check (size >= 0 and epoch >= 1 and octet_length(root) = 32);

-- ================================================================ Indexes beyond Prisma's words

-- The trend of one subject and series is one index-only scan; both sides arrive together.
create index set_result_trend on set_result (clinic_id, subject_id, series, tested_at, side)
  include (id, session_id, comparability_hash, body_mass_kg, peak_torque_nm) where is_current;
-- One answer in force per set and direction, one analysis in force per set.
create unique index set_result_one_current on set_result (clinic_id, set_id, series) where is_current;
create unique index analysis_one_current on analysis (clinic_id, set_id) where superseded_at is null;
create unique index subject_version_one_current on subject_version (clinic_id, subject_id) where superseded_at is null;
create unique index episode_version_one_current on episode_version (clinic_id, episode_id) where superseded_at is null;
create unique index session_version_one_current on session_version (clinic_id, session_id) where superseded_at is null;
-- Compressed already: TOAST should not try again.
alter table recording_blob alter column bytes set storage external;

-- ================================================================ Functions: the only way to the control tables

-- Who a verified token is in the clinic it names; no row for a stranger, a removed member or an issuer the clinic does
-- not list. The one call that sets app.clinic_id from a token, before any tenant statement; local to its transaction.
create function authenticate_member(p_clinic uuid, p_issuer text, p_sub text)
returns table (principal_id uuid, role text, display_name text, licensed boolean, clinic_name text, time_zone text)
language plpgsql security definer set search_path = pg_catalog, public, pg_temp as $$
begin
  perform set_config('app.clinic_id', p_clinic::text, true);
  return query
    select m.principal_id, m.role, m.display_name, m.licence is not null, c.name, c.time_zone
    from principal p
    join membership m on m.principal_id = p.id
    join clinic c on c.id = m.clinic_id
    join clinic_issuer i on i.clinic_id = c.id and i.issuer = p.issuer
    where p.issuer = p_issuer and p.sub = p_sub and m.clinic_id = p_clinic
      and m.valid_from <= now() and (m.valid_until is null or m.valid_until > now());
end $$;

create function authenticate_team_reader(p_team uuid, p_issuer text, p_sub text)
returns table (principal_id uuid, display_name text, team_name text)
language sql stable security definer set search_path = pg_catalog, public, pg_temp as $$
  select m.principal_id, m.display_name, t.name
  from principal p
  join team_member m on m.principal_id = p.id
  join team t on t.id = m.team_id
  where p.issuer = p_issuer and p.sub = p_sub and m.team_id = p_team
    and (m.valid_until is null or m.valid_until > now());
$$;

create sequence security_event_slot maxvalue 10000 cycle;

-- A ring of 10,000: whoever floods the service with bad tokens overwrites only refusals.
create function record_security_event(p_request_id text, p_code text, p_route text, p_issuer text)
returns void language sql security definer set search_path = pg_catalog, public, pg_temp as $$
  insert into security_event (slot, at, request_id, code, route, issuer)
  values (nextval('security_event_slot')::int, now(), p_request_id, p_code, p_route, p_issuer)
  on conflict (slot) do update
    set at = excluded.at, request_id = excluded.request_id, code = excluded.code, route = excluded.route, issuer = excluded.issuer;
$$;

-- The sealer walks the clinics; it learns their ids and nothing else.
create function sealer_clinic_ids() returns setof uuid
language sql stable security definer set search_path = pg_catalog, public, pg_temp as $$ select id from clinic order by id $$;

-- Whether the schema is the one this version of the service was written for; asked at boot and by /readyz. The table is
-- made by whoever applies migrations, so the body is looked at when it is called.
create function applied_migrations() returns table (name text, checksum text)
language plpgsql stable security definer set search_path = pg_catalog, public, pg_temp as $$
begin
  return query select m.migration_name::text, m.checksum::text from _prisma_migrations m
    where m.finished_at is not null and m.rolled_back_at is null;
end $$;

revoke all on all functions in schema public from public;
grant execute on function authenticate_member(uuid, text, text) to limb_ledger_app;
grant execute on function authenticate_team_reader(uuid, text, text) to limb_ledger_app;
grant execute on function record_security_event(text, text, text, text) to limb_ledger_app;
grant execute on function sealer_clinic_ids() to limb_ledger_sealer;
grant execute on function applied_migrations() to limb_ledger_app, limb_ledger_sealer;
