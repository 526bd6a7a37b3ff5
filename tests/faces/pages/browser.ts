/** A real Chromium for tests of pages; null, with a line that says so, on a machine without one. */
import { existsSync } from 'node:fs'
import { chromium, type Browser } from 'playwright-core'

const PLACES = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome', '/usr/bin/google-chrome-stable'] // prettier-ignore

export async function launchBrowser(): Promise<Browser | null> {
  const executablePath = process.env['CHROMIUM'] ?? PLACES.find((place) => existsSync(place))
  if (executablePath === undefined) {
    console.log('No Chromium on this machine: tests of pages are skipped. Set CHROMIUM to the path of one.')
    return null
  }
  return chromium.launch({ executablePath, args: ['--no-sandbox'] })
}

/** Pages of a PDF, by its page objects. */
export const pageCount = (pdf: Uint8Array): number =>
  Buffer.from(pdf)
    .toString('latin1')
    .match(/\/Type\s*\/Page(?![a-z])/gi)?.length ?? 0
