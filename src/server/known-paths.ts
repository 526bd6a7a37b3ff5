import type { FastifyInstance } from 'fastify'

/** Which methods an address takes, for the 405 of one that it does not take. Registered before the first route. */
export function knownPaths(app: FastifyInstance): (path: string) => readonly string[] {
  const routes: { method: string; steps: readonly string[] }[] = []
  app.addHook('onRoute', ({ method, url }) => {
    for (const one of [method].flat()) routes.push({ method: one, steps: url.split('/') })
  })
  return (path) => {
    const steps = path.split('/')
    const fits = routes.filter(
      (route) =>
        route.steps.length === steps.length &&
        route.steps.every((step, i) => (step.startsWith(':') ? steps[i] !== '' : step === steps[i])),
    )
    return [...new Set(fits.map((route) => route.method))].sort()
  }
}
