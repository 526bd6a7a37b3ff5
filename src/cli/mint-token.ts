import { runCommand, UsageError } from './admin.ts'

const HELP = `Usage: limb-ledger mint-token --sub TEXT (--clinic ID | --team ID) [--client TEXT] [--hours 12]

Prints an access token of the embedded issuer and nothing else. Refused in production.
  --client TEXT   client_id claim, shown in the audit log
  --hours N       lifetime, up to 12`

export const run = (argv: readonly string[]): Promise<number> =>
  runCommand(
    argv,
    { name: 'mint-token', help: HELP, options: ['sub', 'clinic', 'team', 'client', 'hours'] },
    async (options, config) => {
      const place = (name: 'clinic' | 'team') =>
        options.maybe(name) === undefined ? undefined : options.needUuid(name)
      const hours = Number(options.maybe('hours') ?? 12)
      if (!(hours > 0 && hours <= 12)) throw new UsageError('--hours wants a number above 0 and up to 12.')
      const [clinic, team] = [place('clinic'), place('team')]
      if ((clinic === undefined) === (team === undefined)) throw new UsageError('Give --clinic or --team, one of them.')
      const { embeddedIssuerOf } = await import('../embedded/machine.ts')
      const issuer = await embeddedIssuerOf(config())
      return issuer.mint({
        sub: options.need('sub'),
        clinic,
        team,
        client: options.maybe('client'),
        lifetimeS: hours * 3600,
      })
    },
  )
