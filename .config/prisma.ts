import { defineConfig } from 'prisma/config'

// No database address: the client is generated from the schema alone, and migrations run behind applyMigrations().
export default defineConfig({
  schema: '../prisma/schema.prisma',
  migrations: { path: '../prisma/migrations' },
})
