/** Said to whoever runs the migration: one sentence, no stack needed. */
export class MigrateError extends Error {}
