-- Runs as limb_ledger_owner (no login).

-- When an event was taken in is said by the database: whoever could choose it could backdate one. Like xid and ord.
revoke insert (at) on audit_event from limb_ledger_app;
