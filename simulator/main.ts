/** `npm run simulate`: see `--help`. */
import { runSimulator } from './command.js';

process.exitCode = await runSimulator(process.argv.slice(2), {
  say: (line) => console.log(line),
  complain: (line) => console.error(line),
});
