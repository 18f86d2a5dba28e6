/** `npm run screenshots`: the runner of the tests also runs this script, which needs the same plant and browser. */
import { defineConfig } from 'vitest/config';

// the runner asks for a default export
export default defineConfig({
  test: { include: ['tests/page/screenshots.ts'], testTimeout: 600_000, hookTimeout: 600_000 },
});
