/** The one big button of a run: the noise is there, now. Also the space bar. */
import { useEffect, useMemo } from 'preact/hooks';
import type { Run } from '../../contract/runs.ts';
import { ApiFailure } from '../api.ts';
import { clock } from '../format.ts';
import { sourceWords } from '../run-words.ts';
import { createMarker } from '../state/marker.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';

const RETRY_MS = 3_000;
/** Where the space bar has a meaning of its own. */
const OWN_SPACE = 'input, select, textarea, button, a, summary, dialog';

export function NoiseButton({ run, onChanged }: { run: Run; onChanged(): void }) {
  const { state, api } = useApp();
  const stationMs = () => Date.now() + state.value.clockOffsetMs;
  const marker = useMemo(
    () =>
      createMarker(
        async (request) => {
          const answer = await api.mark(run.id, request);
          onChanged();
          return answer;
        },
        (error) => error instanceof ApiFailure && error.status >= 400 && error.status < 500,
      ),
    [run.id],
  );

  useEffect(() => {
    const isOwn = (event: KeyboardEvent) =>
      event.target instanceof Element &&
      event.target.closest(OWN_SPACE) !== null &&
      !isNoiseButton(event.target);
    const down = (event: KeyboardEvent) => {
      if (event.key !== ' ' || isOwn(event)) return;
      event.preventDefault();
      if (!event.repeat) marker.press(stationMs(), 'key');
    };
    const up = (event: KeyboardEvent) => {
      if (event.key !== ' ') return;
      if (isNoiseButton(event.target)) event.preventDefault();
      marker.release(stationMs());
    };
    // Letting go outside the page must not leave the button held for ever.
    const away = () => marker.release(stationMs());
    const timer = setInterval(marker.retry, RETRY_MS);
    addEventListener('keydown', down);
    addEventListener('keyup', up);
    addEventListener('blur', away);
    return () => {
      away();
      clearInterval(timer);
      removeEventListener('keydown', down);
      removeEventListener('keyup', up);
      removeEventListener('blur', away);
    };
  }, [marker]);

  const last = marker.lastMs.value;
  return (
    <section class="noise" aria-label="Noise mark">
      <button
        type="button"
        class={marker.down.value ? 'noise-now down' : 'noise-now'}
        onPointerDown={(event) => {
          if (event.button !== 0) return;
          event.currentTarget.setPointerCapture(event.pointerId);
          marker.press(stationMs(), 'button');
        }}
        onPointerUp={() => marker.release(stationMs())}
        onPointerCancel={() => marker.release(stationMs())}
        onContextMenu={(event) => event.preventDefault()}
        onClick={(event) => {
          // Screen readers and switches click without a pointer.
          if (event.detail !== 0) return;
          marker.press(stationMs(), 'button');
          marker.release(stationMs());
        }}
      >
        <span class="noise-word">{marker.down.value ? 'Marking…' : 'Noise now'}</span>
        <span class="noise-how">Press, or hold while it lasts. Space bar works too.</span>
      </button>
      <p role="status" class="noise-said">
        {last !== null && !marker.down.value && `Marked at ${clock(last, true)}. `}
        {marker.waiting.value > 0 &&
          !marker.down.value &&
          `${marker.waiting.value} not yet with the station: it is sent as soon as the line is back.`}
      </p>
      <LastMarks run={run} onChanged={onChanged} />
    </section>
  );
}

const isNoiseButton = (target: EventTarget | null): boolean =>
  target instanceof Element && target.closest('.noise-now') !== null;

function LastMarks({ run, onChanged }: { run: Run; onChanged(): void }) {
  const { api } = useApp();
  const action = useAction();
  const newest = run.marks.at(-1);
  if (newest === undefined) return <p class="none">No noise mark yet.</p>;
  const held = newest.endMs === null ? '' : `, held ${Math.round((newest.endMs - newest.atMs) / 1000)} s`;
  return (
    <>
      <p class="last-mark">
        <span>
          {run.marks.length} {run.marks.length === 1 ? 'mark' : 'marks'}; newest {clock(newest.atMs, true)}
          {held}, {sourceWords(newest.source)}
          {newest.by && `, ${newest.by}`}
        </span>
        <button
          type="button"
          class="quiet"
          disabled={action.busy.value}
          onClick={() =>
            void action.run(async () => {
              await api.removeMark(run.id, newest.id);
              onChanged();
            })
          }
        >
          Remove newest mark
        </button>
      </p>
      <Failure failure={action.failure.value} />
    </>
  );
}
