// What tsc does not see in web/: dead names, loose equality, promises dropped by accident.
import js from '@eslint/js';
import globals from 'globals';

const inEngine = ['web/engine/**/*.js'];

export default [
  { ignores: ['web/vendor/**', '**/node_modules/**', '.venv/**'] },
  js.configs.recommended,
  {
    files: ['web/**/*.js', 'tests/**/*.js'],
    languageOptions: { ecmaVersion: 2023, sourceType: 'module', globals: globals.browser },
    linterOptions: { reportUnusedDisableDirectives: 'error' },
    rules: {
      eqeqeq: 'error',
      // A fault of ours is logged whole; nothing else talks to the console.
      'no-console': ['error', { allow: ['error'] }],
      'no-eval': 'error',
      'no-implied-eval': 'error',
      'no-restricted-properties': [
        'error',
        { property: 'innerHTML', message: 'Text from offers is data: render it with lit.' },
        { property: 'outerHTML', message: 'Text from offers is data: render it with lit.' },
        { property: 'insertAdjacentHTML', message: 'Text from offers is data: render it with lit.' },
      ],
      'no-unused-vars': ['error', { argsIgnorePattern: '^_' }],
      'no-var': 'error',
      'object-shorthand': 'error',
      'prefer-const': 'error',
    },
  },
  {
    // The engine is pure and exact: no clock, no chance, no page, no floats read from text.
    files: inEngine,
    languageOptions: { globals: { ...globals.browser } },
    rules: {
      'no-restricted-globals': ['error', 'document', 'window', 'localStorage', 'fetch', 'parseFloat', 'Date'],
      'no-restricted-properties': ['error', { object: 'Math', property: 'random' }],
    },
  },
  {
    files: ['web/sw/**/*.js', 'web/sw.js'],
    languageOptions: { globals: globals.serviceworker },
  },
];
