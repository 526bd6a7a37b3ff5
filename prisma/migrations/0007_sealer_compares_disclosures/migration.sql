-- Runs as limb_ledger_owner (no login).

-- Who has seen a person is listed from this table, and no hash covers it: a verification compares it with the events.
grant select on audit_disclosure to limb_ledger_sealer;
