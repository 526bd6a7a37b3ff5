import { mkdir, writeFile } from 'node:fs/promises'
import { dirname } from 'node:path'
import { makeKeyRingText } from '../ledger/subject-keys.ts'
import { makeSigningKeyPem } from '../ledger/tree-head.ts'
import { runCommand } from './admin.ts'

const HELP = `Usage: limb-ledger make-keys --signing-key FILE --subject-keys FILE

Makes the two keys of the audit log, which a production service never makes by itself. Neither file is overwritten.
  --signing-key FILE    signs tree heads (Ed25519, PKCS #8 PEM). To replace it later: make a new one and append the old
                        one's public key (openssl pkey -pubout), or older heads no longer verify.
  --subject-keys FILE   wraps the keys of subjects (32 bytes, base64url). To replace it later: put a new line before the
                        old one. Whoever loses it loses every text about people in the audit log.

Keep both outside the database and its backups, and the subject keys apart from the signing key.`

export const run = (argv: readonly string[]): Promise<number> =>
  runCommand(argv, { name: 'make-keys', help: HELP, options: ['signing-key', 'subject-keys'] }, async (options) => {
    const files = { signingKey: options.need('signing-key'), subjectKeys: options.need('subject-keys') }
    await writeNew(files.signingKey, makeSigningKeyPem())
    await writeNew(files.subjectKeys, makeKeyRingText())
    return JSON.stringify(files)
  })

async function writeNew(path: string, text: string): Promise<void> {
  await mkdir(dirname(path), { recursive: true })
  await writeFile(path, text, { mode: 0o600, flag: 'wx' })
}
