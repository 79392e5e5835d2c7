/** What does it follow? Tones of a location against the speeds that the vehicle told. */
import { useSignal } from '@preact/signals';
import type { FollowResult } from '../../contract/inquiries.ts';
import type { Run } from '../../contract/runs.ts';
import { axisName, clock, significant } from '../format.ts';
import { VEHICLE } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { manoeuvreOf, RunLocationSelect, RunPartSelect, WHOLE_RUN } from './run-selects.tsx';

const SPEEDS = ['engineSpeedRpm', 'turbineSpeedRpm', 'outputSpeedRpm', 'roadSpeedKmH'] as const;

export function Follow({ run }: { run: Run }) {
  const { api } = useApp();
  const action = useAction();
  const chosen = useSignal(run.locations[0]?.id ?? 0);
  const part = useSignal(WHOLE_RUN);
  const found = useSignal<FollowResult | null>(null);
  const told = SPEEDS.filter((speed) => run.vehicle.some(({ quantity }) => quantity === speed));
  if (run.locations.length === 0) return null;
  const forget = () => {
    found.value = null;
  };
  const ask = () =>
    void action.run(async () => {
      found.value = await api.follow(run.id, {
        locationId: chosen.value,
        ...manoeuvreOf(part.value),
      });
    });
  return (
    <section class="panel" aria-labelledby="follow-heading">
      <h2 id="follow-heading">What does it follow?</h2>
      {told.length === 0 ? (
        <p class="none">
          The vehicle told no speed in this run. With engine or road speed that varies, each tone can be held
          against what turns.
        </p>
      ) : (
        <>
          <div class="in-line compare-form">
            <RunLocationSelect label="Tones at" run={run} chosen={chosen} onChosen={forget} />
            <RunPartSelect label="Speeds of" whole="The whole run" run={run} part={part} onChosen={forget} />
          </div>
          <div class="buttons">
            <button type="button" disabled={action.busy.value} onClick={ask}>
              {action.busy.value ? 'Following…' : 'Follow the tones'}
            </button>
          </div>
          <p class="hint">
            Told by the vehicle: {told.map((speed) => VEHICLE[speed].name.toLowerCase()).join(', ')}. The part
            in which they varied most is used.
          </p>
        </>
      )}
      <Failure failure={action.failure.value} />
      {found.value && <Answer answer={found.value} />}
    </section>
  );
}

function Answer({ answer: { sentence, used, axis, tones, notes } }: { answer: FollowResult }) {
  return (
    <div role="status">
      <p>
        <strong>{sentence}</strong>
      </p>
      {tones.length > 0 && (
        <ul>
          {tones.map((tone) => (
            <li key={tone.frequencyHz}>
              {tone.sentence} Level {significant(tone.amplitudeRms)} m/s² RMS.
            </li>
          ))}
        </ul>
      )}
      <p class="hint">
        {used && `Axis ${axisName(axis)}, ${clock(used.fromMs, true)} to ${clock(used.toMs, true)}. `}
        {tones.length > 0 &&
          'How sure: how often no other explanation fits as well when the seconds of the record are drawn anew, some twice and some not. '}
        {notes.join(' ')}
      </p>
    </div>
  );
}
