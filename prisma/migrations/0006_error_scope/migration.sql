-- A clinic's own measurement error may be that of one operator, of one machine, or of both; null: of the whole clinic.
-- The table keeps its policies, and a grant on a table covers columns that are added to it.
ALTER TABLE "measurement_error" ADD COLUMN "dynamometer_id" UUID,
ADD COLUMN "operator_id" UUID;

ALTER TABLE "measurement_error" ADD CONSTRAINT "measurement_error_clinic_id_operator_id_fkey" FOREIGN KEY ("clinic_id", "operator_id") REFERENCES "membership"("clinic_id", "principal_id") ON DELETE RESTRICT ON UPDATE RESTRICT;

ALTER TABLE "measurement_error" ADD CONSTRAINT "measurement_error_clinic_id_dynamometer_id_fkey" FOREIGN KEY ("clinic_id", "dynamometer_id") REFERENCES "dynamometer"("clinic_id", "id") ON DELETE RESTRICT ON UPDATE RESTRICT;
