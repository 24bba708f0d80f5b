import tseslint from 'typescript-eslint';

/** A floor imports only from those below it; `widget`, `view` and `model` know nothing of Jupyter. */
const floors = {
  index: ['**/widget/**', '**/lab/**', '**/view/**', '**/model/**', '**/api.js'],
  plugins: ['**/model/**', '**/api.js', '../index.js'],
  lab: ['**/plugins/**', '../index.js'],
  api: ['**/widget/**', '**/plugins/**', '**/lab/**', '**/view/**', './index.js'],
  widget: ['@jupyterlab/*', '@lumino/*', 'uplot', '**/plugins/**', '**/lab/**', '**/api.js', '../index.js'],
  view: [
    '@jupyterlab/*',
    '@lumino/*',
    '**/widget/**',
    '**/plugins/**',
    '**/lab/**',
    '**/api.js',
    '../index.js'
  ],
  model: [
    '@jupyterlab/*',
    '@lumino/*',
    'uplot',
    '**/widget/**',
    '**/plugins/**',
    '**/lab/**',
    '**/view/**',
    '**/api.js',
    '../index.js'
  ]
};

const forbid = (group, message) => ({
  'no-restricted-imports': ['error', { patterns: [{ group, message }] }]
});

export default tseslint.config(
  { ignores: ['lib', 'lib-tests', 'node_modules'] },
  ...tseslint.configs.strictTypeChecked.map(config => ({ ...config, files: ['**/*.ts'] })),
  {
    files: ['**/*.ts'],
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: import.meta.dirname } },
    rules: {
      'max-lines': ['error', 250],
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_' }]
    }
  },
  ...Object.entries(floors).map(([floor, group]) => ({
    files: [floor === 'index' || floor === 'api' ? `src/${floor}.ts` : `src/${floor}/**/*.ts`],
    rules: forbid(group, `the floor "${floor}" may not import this`)
  })),
  {
    files: ['src/view/**/*.ts'],
    ignores: ['src/view/chart.ts'],
    rules: forbid([...floors.view, 'uplot'], 'only view/chart.ts knows uPlot, and no view knows Jupyter')
  },
  {
    files: ['src/view/chart.ts'],
    rules: { '@typescript-eslint/no-unsafe-enum-assignment': 'off' } // uPlot's enums cannot be imported
  },
  {
    files: ['src/view/listening.ts'],
    rules: { '@typescript-eslint/no-unnecessary-type-parameters': 'off' } // what an event is, its listener says
  },
  {
    files: ['tests/**/*.ts'],
    rules: { '@typescript-eslint/no-floating-promises': 'off' }
  }
);
