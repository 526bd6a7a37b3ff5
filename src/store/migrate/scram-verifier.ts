import { createHash, createHmac, pbkdf2Sync, randomBytes } from 'node:crypto'

/**
 * What PostgreSQL stores for a password (SCRAM-SHA-256, RFC 5802 and RFC 7677), made here so that the password itself
 * never stands in a statement, a statement log or pg_stat_activity.
 */
export function scramVerifier(password: string, salt: Buffer = randomBytes(16), iterations = 4096): string {
  // SASLprep leaves printable ASCII as it is; anything else would have to be normalised first.
  if (!/^[\x21-\x7e]{16,}$/.test(password))
    throw new RangeError('a database password needs at least 16 printable ASCII characters without spaces')
  const salted = pbkdf2Sync(password, salt, iterations, 32, 'sha256')
  const hmac = (text: string) => createHmac('sha256', salted).update(text).digest()
  const storedKey = createHash('sha256').update(hmac('Client Key')).digest('base64')
  return `SCRAM-SHA-256$${iterations}:${salt.toString('base64')}$${storedKey}:${hmac('Server Key').toString('base64')}`
}
