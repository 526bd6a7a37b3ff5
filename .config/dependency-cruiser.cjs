// Who may import whom. Each ring names what it may reach; everything else is forbidden to it. Types count as imports:
// a ring that knows another one's types depends on it. Read by tests/architecture; also: depcruise -c this-file src

const GENERATED = '^src/store/generated/'
// Programs that put the rings together.
const ENTRY_POINTS = ['^src/(main|service)\\.ts$', '^src/demo/main\\.ts$', '^src/faces/write-descriptions\\.ts$']

/** Within the project a ring reaches itself and what is listed, nothing else. */
function ring(name, from, reaches, comment) {
  return {
    name,
    comment,
    severity: 'error',
    from: { path: from, pathNot: ENTRY_POINTS },
    to: { path: '^src/', pathNot: [from, ...reaches] },
  }
}

const PACKAGE = ['npm', 'npm-dev', 'npm-optional', 'npm-peer', 'npm-no-pkg', 'npm-unknown']

/** Of installed packages and Node's own modules a ring uses those listed, nothing else. */
function packages(name, from, used, comment, kinds = [...PACKAGE, 'core']) {
  return { name, comment, severity: 'error', from: { path: from }, to: { dependencyTypes: kinds, pathNot: used } }
}

const npm = (name) => `(^|/)node_modules/${name}/`
const core = (name) => `^(node:)?${name}$`

module.exports = {
  forbidden: [
    ring('compute-alone', '^src/compute/', [], 'Numbers in, numbers out.'),
    packages(
      'compute-no-packages',
      '^src/compute/',
      [],
      'No clock, no disk, no library: a result depends on its input.',
    ),

    ring('domain-words', '^src/domain/', ['^src/compute/'], 'The words know the numbers and nobody else.'),
    packages(
      'domain-packages',
      '^src/domain/',
      [npm('zod'), npm('jsonc-parser'), npm('secure-json-parse'), npm('canonicalize'), core('crypto')],
      'Parsing and hashing of documents only.',
    ),

    ring('tenancy', '^src/tenancy/', ['^src/domain/', GENERATED], 'Below every store.'),
    ring('store', '^src/store/', ['^src/tenancy/', '^src/domain/', '^src/compute/'], 'Rows, not rules.'),
    {
      name: 'store-knows-shapes',
      comment: 'A store keeps what was computed; it computes nothing.',
      severity: 'error',
      from: { path: '^src/store/' },
      to: { path: '^src/compute/', dependencyTypesNot: ['type-only'] },
    },
    ring(
      'application',
      '^src/application/',
      ['^src/store/', '^src/tenancy/', '^src/domain/', '^src/compute/', '^src/ledger/'],
      'One use case a file; it does not know who asked.',
    ),
    ring(
      'server',
      '^src/server/',
      ['^src/tenancy/', '^src/domain/', '^src/config\\.ts$', '^src/store/check-server\\.ts$'],
      'HTTP plumbing.',
    ),
    ring(
      'faces',
      '^src/faces/',
      ['^src/application/', '^src/domain/', '^src/server/', '^src/tenancy/(actor|policy|database|announcements)\\.ts$'],
      'Translation only: a route names its action and hands actor and database on.',
    ),
    {
      name: 'faces-hand-on',
      comment: 'A face passes the database to use cases and follows what is announced; it opens neither.',
      severity: 'error',
      from: { path: '^src/faces/' },
      to: { path: '^src/tenancy/(database|announcements)\\.ts$', dependencyTypesNot: ['type-only'] },
    },
    ring('ledger', '^src/ledger/', ['^src/domain/', '^src/tenancy/', '^src/store/audit-store\\.ts$'], 'The audit log.'),
    ring('verify-alone', '^src/ledger/verify/', [], 'An auditor reads and runs this folder without the rest.'),
    packages('verify-node-only', '^src/ledger/verify/', [], 'No package stands between an auditor and proof.', PACKAGE),
    ring('simulator-alone', '^src/demo/simulator/', [], 'Truth must not be made by the code that is to find it.'),

    {
      name: 'generated-client-below-application',
      comment: 'Only stores and tenancy talk to the database.',
      severity: 'error',
      from: { path: '^src/', pathNot: ['^src/store/', '^src/tenancy/'] },
      to: { path: [GENERATED, npm('@prisma')] },
    },
    {
      name: 'http-in-faces-and-server',
      comment: 'A use case that knows HTTP serves one face.',
      severity: 'error',
      from: { path: '^src/', pathNot: ['^src/(faces|server)/', '^src/(app|service)\\.ts$'] },
      to: { path: [npm('fastify'), npm('@fastify/[^/]+'), npm('mercurius'), npm('graphql')] },
    },
    {
      name: 'embedded-on-demand',
      comment: 'What production has not installed is loaded by import(), after the configuration was read.',
      severity: 'error',
      from: { path: '^src/', pathNot: ['^src/embedded/'] },
      to: { path: '^src/embedded/', dynamic: false, dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'no-dev-packages-in-service',
      comment: 'They are absent in production.',
      severity: 'error',
      from: { path: '^src/', pathNot: ['^src/embedded/'] },
      to: { dependencyTypes: ['npm-dev'], dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'app-assembled-once',
      comment: 'They know everything, so nothing may know them but what starts them.',
      severity: 'error',
      from: { path: '^src/', pathNot: ENTRY_POINTS },
      to: { path: '^src/(app|main|service)\\.ts$' },
    },
    {
      name: 'no-circular',
      comment: 'Two files that need each other are one file, or three.',
      severity: 'error',
      from: { path: '^src/', pathNot: GENERATED },
      to: { circular: true },
    },
    {
      name: 'not-to-tests',
      severity: 'error',
      from: { path: '^src/' },
      to: { path: '^tests/' },
    },
    {
      name: 'resolvable',
      severity: 'error',
      from: { path: '^src/', pathNot: GENERATED },
      to: { couldNotResolve: true },
    },
  ],
  options: {
    doNotFollow: { path: ['node_modules', GENERATED] },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'node', 'default', 'types'],
      extensions: ['.ts', '.js', '.json'],
    },
  },
}
