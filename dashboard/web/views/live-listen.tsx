/** Listening to one location as it runs, some seconds behind. */
import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { ApiFailure } from '../api.ts';
import { fetchSound } from '../audio/fetch-sound.ts';
import { buildSoundGraph, LIMIT, type SoundGraph } from '../audio/sound-graph.ts';
import { useApp } from '../state/store.ts';
import { asFailure, Failure } from './actions.tsx';

const PART_MS = 4_000;
/** A part is asked for this long after it began: it has ended, and its samples have had time to arrive. */
const BEHIND_MS = 7_000;
/** Parts without samples in a row, after which it is said and given up. */
const MOST_MISSED = 5;

export function LiveListen({ locationId }: { locationId: number }) {
  const { state } = useApp();
  const on = useSignal(false);
  const said = useSignal('');
  const failure = useSignal<ApiFailure | null>(null);
  const volume = useSignal(0.35);
  const graphs = useRef<SoundGraph[]>([]);

  useEffect(() => {
    if (!on.value) return;
    const context = new AudioContext();
    let gone = false;
    const stationMs = () => Date.now() + state.value.clockOffsetMs;
    async function run(): Promise<void> {
      let fromMs = Math.floor(stationMs() - BEHIND_MS - PART_MS);
      let playAt = 0;
      let missed = 0;
      // The level of the first part is kept, so that changes stay audible.
      let rms: number | null = null;
      while (!gone) {
        const waitMs = fromMs + BEHIND_MS - stationMs();
        if (waitMs > 0) await new Promise((resolve) => setTimeout(resolve, waitMs));
        const url = `/api/locations/${locationId}/sound?fromMs=${fromMs}&toMs=${fromMs + PART_MS}`;
        const sound = await fetchSound(context, url, locationId).catch((error) => {
          // A sensor just mounted, or one that pauses: the next part may have samples again.
          const nothingThere = error instanceof ApiFailure && error.code === 'CANNOT_ANSWER';
          missed += 1;
          if (!nothingThere || missed > MOST_MISSED) throw error;
          return null;
        });
        if (gone) return;
        if (sound === null) {
          said.value = 'No samples of these seconds; waiting for the next…';
          fromMs += PART_MS;
          continue;
        }
        missed = 0;
        // Full scale differs from part to part; the level as measured must not.
        rms ??= sound.rmsMPerS2;
        const inThisPart = sound.rmsMPerS2 > 0 ? (sound.rms * rms) / sound.rmsMPerS2 : sound.rms;
        const graph = buildSoundGraph(context, [{ ...sound, rms: inThisPart }]);
        graph.setVolume(volume.value);
        playAt = Math.max(playAt, context.currentTime + 0.1);
        graph.select(locationId, playAt);
        graph.start(playAt, { speed: 1, loop: false });
        graphs.current = [...graphs.current.slice(-2), graph];
        said.value = `Playing, about ${Math.round((stationMs() - fromMs) / 1000)} s behind.`;
        playAt += PART_MS / 1000;
        fromMs += PART_MS;
      }
    }
    run().catch((error) => {
      if (gone) return;
      failure.value = asFailure(error);
      on.value = false;
    });
    return () => {
      gone = true;
      said.value = '';
      for (const graph of graphs.current) graph.stop();
      graphs.current = [];
      void context.close();
    };
  }, [on.value, locationId]);

  return (
    <section class="panel" aria-labelledby="live-listen-heading">
      <h2 id="live-listen-heading">Listen</h2>
      <p class="caution-line">
        The driver wears no headphones. Start low; the output is limited to {Math.round(100 * LIMIT)} % of
        full scale.
      </p>
      <div class="buttons">
        <button
          type="button"
          aria-pressed={on.value}
          onClick={() => {
            failure.value = null;
            on.value = !on.value;
          }}
        >
          {on.value ? 'Stop' : 'Listen'}
        </button>
        <label class="select">
          Volume
          <input
            type="range"
            min={0}
            max={1}
            step={0.05}
            value={volume.value}
            onInput={(event) => {
              volume.value = Number(event.currentTarget.value);
              for (const graph of graphs.current) graph.setVolume(volume.value);
            }}
          />
        </label>
        <span role="status">{said.value}</span>
      </div>
      <Failure failure={failure.value} />
    </section>
  );
}
