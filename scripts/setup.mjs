/**
 * Makes a fresh clone ready: checks Node.js, installs the packages when they are missing or
 * older than the lock file, and builds. Plain Node.js, because nothing is installed yet.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { dirname, join } from 'node:path';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
if (major < 20 || (major === 20 && minor < 19)) {
  console.error(
    `Node.js ${process.versions.node} is too old: install 20.19 or newer, then run the command again.`,
  );
  process.exit(1);
}

function run(command, args) {
  const npm = process.platform === 'win32' ? `${command}.cmd` : command;
  const result = spawnSync(npm, args, { cwd: root, stdio: 'inherit' });
  if (result.status !== 0) {
    console.error(
      `"${command} ${args.join(' ')}" failed. better-sqlite3 needs a C++ toolchain (g++, make, python3) when no binary fits.`,
    );
    process.exit(result.status ?? 1);
  }
}

const installed = join(root, 'node_modules', '.package-lock.json');
const lock = join(root, 'package-lock.json');
if (!existsSync(installed) || statSync(installed).mtimeMs < statSync(lock).mtimeMs)
  run('npm', ['ci', '--no-audit', '--no-fund']);
run('npm', ['run', '--silent', 'build']);
