/** What stands before and after the tables. */
import type { Person } from './found-clinics.ts'
import type { Story } from './play.ts'
import { paragraph } from './table.ts'

export const title = (): string =>
  [
    'LIMB LEDGER: one invented rehabilitation, told over HTTP with real tokens',
    paragraph(
      'A knee ligament reconstruction on the right; tests before surgery and at five visits from the third to the ninth month. ' +
        'People, clinics and recordings are made up. The service states what was measured and which criteria are met or not; ' +
        'every decision is a licensed clinician’s, and local protocol comes first.',
    ),
  ].join('\n')

export function stillRunning(url: string, people: readonly Person[], { commands, otherClinic }: Story): string {
  return [
    'Still running. Ctrl-C ends it and leaves nothing behind.',
    `  API             ${url}/v1/me`,
    `  Reference page  ${url}/docs`,
    '',
    'Tokens, valid for 12 h',
    ...people.flatMap(({ name, role, clinic, token }) => [`  ${role}: ${name}, ${clinic}`, token]),
    '',
    'To paste into another terminal',
    ...commands.flatMap(({ title, text }) => [`# ${title}`, text]),
    paragraph(
      otherClinic.asIfItDidNotExist
        ? `The last one was answered ${otherClinic.status} just now, in the same words as for a subject that nobody has.`
        : 'The last one was answered otherwise than for a subject that nobody has: that is a fault, please report it.',
    ),
  ].join('\n')
}
