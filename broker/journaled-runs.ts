import type { Journaled } from '../firmware-protocol/index.ts';
import type { PacketSpan } from './check-message.ts';

/** An unbroken run of packets; `upto` is behind the last one. */
interface Run {
  from: number;
  upto: number;
  uptoSample: bigint;
}

interface Boot {
  nodeId: string;
  bootId: number;
  /** Lowest first; between two of them packets are missing. */
  runs: Run[];
  /** Sequence of the packet that came last, when its node has not been told of it. */
  untold: number | null;
}

/** Boots remembered, of all nodes; beyond, the longest silent is forgotten and its node sends again what it keeps. */
const MAX_BOOTS = 4096;
/** Holes remembered of one boot. */
const MAX_RUNS = 64;

/** Which packets are in the journal, boot by boot, as far as this process has seen them go in. */
export class JournaledRuns {
  readonly #boots = new Map<string, Boot>();

  /** The packet is on the disk. One that was there already counts as well: its node has not heard of it. */
  add({ nodeId, bootId, sequence, uptoSample }: PacketSpan): void {
    const key = `${nodeId} ${bootId}`;
    const boot = this.#boots.get(key) ?? { nodeId, bootId, runs: [], untold: null };
    // Put behind the others: the first of the map is the one not heard of for longest.
    this.#boots.delete(key);
    this.#boots.set(key, boot);
    if (this.#boots.size > MAX_BOOTS) this.#boots.delete(this.#boots.keys().next().value!);
    boot.untold = sequence;
    insert(boot.runs, sequence, uptoSample);
    if (boot.runs.length > MAX_RUNS) boot.runs.shift();
  }

  has({ nodeId, bootId, sequence }: PacketSpan): boolean {
    const runs = this.#boots.get(`${nodeId} ${bootId}`)?.runs ?? [];
    return runs.some(({ from, upto }) => sequence >= from && sequence < upto);
  }

  /**
   * What nodes are to be told since the last call: of each boot the run that its newest arrival lies in, so that a
   * node that sends lost packets again hears of them and not, once more, of what it has forgotten already.
   */
  takeUntold(): Journaled[] {
    const told: Journaled[] = [];
    for (const boot of this.#boots.values()) {
      const { nodeId, bootId, untold } = boot;
      if (untold === null) continue;
      boot.untold = null;
      const run = boot.runs.find(({ from, upto }) => untold >= from && untold < upto);
      if (run === undefined) continue;
      const { from, upto, uptoSample } = run;
      told.push({ nodeId, bootId, fromSequence: from, uptoSequence: upto, uptoSample });
    }
    return told;
  }
}

/** Adds one packet to the runs of its boot, joining those that it closes up. */
function insert(runs: Run[], sequence: number, uptoSample: bigint): void {
  // Nearly always the packet follows the last one.
  let at = runs.length;
  while (at > 0 && runs[at - 1]!.from > sequence) at--;
  const before = runs[at - 1];
  if (before !== undefined && sequence < before.upto) return;
  if (before?.upto === sequence) {
    before.upto = sequence + 1;
    before.uptoSample = uptoSample;
  } else {
    runs.splice(at++, 0, { from: sequence, upto: sequence + 1, uptoSample });
  }
  const [run, next] = [runs[at - 1]!, runs[at]];
  if (next?.from !== run.upto) return;
  run.upto = next.upto;
  run.uptoSample = next.uptoSample;
  runs.splice(at, 1);
}
