/**
 * Loaded into the gateway's process before its own code, and into its threads: the process kills itself at the n-th
 * commit of a transaction, just before it or just after it, when nothing that follows has happened yet.
 * Why here: the product then needs no door for tests. CRASH_AT is `before` or `after`, CRASH_COMMIT is n, from 1.
 */
import Database from 'better-sqlite3';

type Body = (...args: unknown[]) => unknown;
type Transaction = Body & Record<'default' | 'deferred' | 'immediate' | 'exclusive', Body>;

const isBefore = process.env['CRASH_AT'] === 'before';
const wanted = Number(process.env['CRASH_COMMIT'] ?? 0);
let commits = 0;

function countCommit(): void {
  commits += 1;
  if (commits === wanted) process.kill(process.pid, 'SIGKILL');
}

function isCommit(sql: unknown): boolean {
  return typeof sql === 'string' && /^\s*(COMMIT|END)\b/i.test(sql);
}

const prototype = Database.prototype as unknown as {
  transaction: (this: Database.Database, body: Body) => Transaction;
  prepare: (this: Database.Database, sql: string) => { run: Body };
  exec: (this: Database.Database, sql: string) => unknown;
};
const { transaction, prepare, exec } = prototype;

/** What commits, with the kill on the wanted side of it. */
function around(commit: () => unknown): unknown {
  if (isBefore) countCommit();
  const result = commit();
  if (!isBefore) countCommit();
  return result;
}

prototype.transaction = function (body) {
  let outer = false;
  const made = transaction.call(this, (...args: unknown[]) => {
    const result = body(...args);
    if (isBefore && outer) countCommit();
    return result;
  });
  const wrap = (run: Body): Body => {
    return (...args: unknown[]) => {
      outer = !this.inTransaction;
      const result = run(...args);
      if (!isBefore && outer) countCommit();
      return result;
    };
  };
  const wrapped = wrap(made) as Transaction;
  for (const kind of ['default', 'deferred', 'immediate', 'exclusive'] as const)
    wrapped[kind] = wrap(made[kind]);
  return wrapped;
};

prototype.prepare = function (sql) {
  const statement = prepare.call(this, sql);
  if (!isCommit(sql)) return statement;
  const run = statement.run.bind(statement);
  statement.run = (...args: unknown[]) => around(() => run(...args));
  return statement;
};

prototype.exec = function (sql) {
  return isCommit(sql) ? around(() => exec.call(this, sql)) : exec.call(this, sql);
};
