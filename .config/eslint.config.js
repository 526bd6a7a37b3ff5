import tseslint from 'typescript-eslint'

export default tseslint.config(
  {
    ignores: [
      '**/node_modules/**',
      '**/generated/**',
      '.data/**',
      'coverage/**',
      'dist/**',
      'reports/**',
      'openapi/**',
    ],
  },
  ...tseslint.configs.recommendedTypeChecked,
  {
    languageOptions: { parserOptions: { project: '../tsconfig.json', tsconfigRootDir: import.meta.dirname } },
    rules: {
      '@typescript-eslint/no-floating-promises': 'error',
      '@typescript-eslint/switch-exhaustiveness-check': ['error', { considerDefaultExhaustiveForUnions: true }],
      '@typescript-eslint/require-array-sort-compare': ['error', { ignoreStringArrays: true }],
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      '@typescript-eslint/consistent-type-imports': 'error',
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true, allowBoolean: true }],
      eqeqeq: ['error', 'always'],
      // Routes and hooks are async by their interface, whether they wait for something or not.
      '@typescript-eslint/require-await': 'off',
      'no-console': 'error',
    },
  },
  {
    files: ['src/cli/**', 'src/demo/**', 'src/embedded/**', 'src/ledger/verify/**', 'tests/**'],
    rules: { 'no-console': 'off' },
  },
  {
    // Answers are JSON taken apart as it comes; each is held against its described shape (tests/harness/described-answers.ts).
    files: [
      'tests/application/**/*.db.test.ts',
      'tests/faces/**',
      'tests/harness/**',
      'tests/jobs/**',
      'tests/server/**',
    ],
    rules: Object.fromEntries(
      ['argument', 'assignment', 'call', 'member-access', 'return'].map((rule) => [
        `@typescript-eslint/no-unsafe-${rule}`,
        'off',
      ]),
    ),
  },
  { files: ['**/*.js', '**/*.cjs', '**/*.mjs'], extends: [tseslint.configs.disableTypeChecked] },
)
