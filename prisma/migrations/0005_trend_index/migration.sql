-- A trend is asked as known at an instant, so it reads superseded rows too and an index of current rows alone is of no use
-- to it. Few rows are ever superseded: one index serves both questions. Both sides arrive together.
drop index set_result_trend;
create index set_result_trend on set_result (clinic_id, subject_id, series, tested_at, side);
