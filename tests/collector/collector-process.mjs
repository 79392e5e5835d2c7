// A built collector as a process of its own, so that a test can kill it at any moment. Prints the journal position
// it has worked off whenever nothing more is waiting; ends properly when its input closes.
import { createCollector } from '../../dist/collector/index.js';

const quiet = { info() {}, warn() {}, error: console.error };
const collector = await createCollector(JSON.parse(process.argv[2]), { log: quiet });
const timer = setInterval(() => {
  const { lagBytes, journalPosition } = collector.state();
  if (lagBytes === 0) console.log(journalPosition);
}, 20);
process.stdin.resume().on('end', async () => {
  clearInterval(timer);
  await collector.close();
  process.exit(0);
});
