// Writes the Prisma client of prisma/schema.prisma to src/store/generated. `prisma generate` looks for its migration
// engine first and would download it, though it never runs it: any program will do in its place.
import { spawnSync } from 'node:child_process'
import { createRequire } from 'node:module'
import { fileURLToPath } from 'node:url'

const prisma = createRequire(import.meta.url).resolve('prisma/build/index.js')
const config = fileURLToPath(new URL('prisma.ts', import.meta.url))
const { status } = spawnSync(process.execPath, [prisma, 'generate', '--config', config, '--no-hints'], {
  cwd: fileURLToPath(new URL('..', import.meta.url)),
  env: {
    ...process.env,
    PRISMA_SCHEMA_ENGINE_BINARY: process.execPath,
    PRISMA_HIDE_UPDATE_MESSAGE: '1',
    CHECKPOINT_DISABLE: '1',
  },
  stdio: 'inherit',
})
process.exitCode = status ?? 1
