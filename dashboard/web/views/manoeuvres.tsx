/** Guided manoeuvres: what to do now, and whether the noise was there. */
import type { ManoeuvreGuide, Run, RunManoeuvre } from '../../contract/runs.ts';
import { elapsed } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { Choice } from './forms.tsx';

interface Props {
  run: Run;
  onChanged(): void;
}

export function Manoeuvres({ run, onChanged }: Props) {
  const { api } = useApp();
  const guides = useRead(() => api.manoeuvres(), 'once');
  const action = useAction();
  const list = guides.data.value ?? [];
  const current = run.manoeuvres.find(({ endMs }) => endMs === null);
  const ended = run.manoeuvres.filter(({ endMs }) => endMs !== null);
  const last = current === undefined ? ended.at(-1) : undefined;
  const guideOf = (one: RunManoeuvre) => list.find(({ id }) => id === one.manoeuvre);
  return (
    <section class="panel" aria-labelledby="manoeuvres-heading">
      <h2 id="manoeuvres-heading">Manoeuvres</h2>
      <Failure failure={guides.failure.value} />
      {current && guideOf(current) && (
        <Current run={run} current={current} guide={guideOf(current)!} onChanged={onChanged} />
      )}
      {last && guideOf(last) && (
        <NoiseHeard run={run} manoeuvre={last} title={guideOf(last)!.title} onChanged={onChanged} />
      )}
      <Failure failure={action.failure.value} />
      <ul class="plain manoeuvre-list">
        {list.map(({ id, title, separates }) => {
          const times = ended.filter(({ manoeuvre }) => manoeuvre === id).length;
          return (
            <li key={id}>
              <button
                type="button"
                disabled={action.busy.value}
                aria-pressed={current?.manoeuvre === id}
                onClick={() =>
                  void action.run(async () => {
                    await api.beginManoeuvre(run.id, id);
                    onChanged();
                  })
                }
              >
                {title}
                {times > 0 && (
                  <span class="done-times"> · done {times === 1 ? 'once' : `${times} times`}</span>
                )}
              </button>
              <p class="hint">{separates}</p>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

function Current({
  run,
  current,
  guide,
  onChanged,
}: Props & { current: RunManoeuvre; guide: ManoeuvreGuide }) {
  const { api, nowMs } = useApp();
  const action = useAction();
  const done = nowMs.value - current.startMs;
  return (
    <div class="now-doing">
      <h3>Now: {guide.title}</h3>
      <p class="instruction">{guide.instruction}</p>
      <ul class="hint">
        {guide.cautions.map((text) => (
          <li key={text}>{text}</li>
        ))}
      </ul>
      <div class="buttons">
        <button
          type="button"
          class="main"
          disabled={action.busy.value}
          onClick={() =>
            void action.run(async () => {
              await api.changeManoeuvre(run.id, current.id, { ended: true });
              onChanged();
            })
          }
        >
          Done
        </button>
        <span>
          {elapsed(done)} of about {elapsed(1000 * guide.durationS)}
        </span>
      </div>
      <Failure failure={action.failure.value} />
    </div>
  );
}

const HEARD = [
  { value: 'present', label: 'Yes' },
  { value: 'absent', label: 'No' },
  { value: 'unclear', label: 'Unclear' },
] as const;

/** Asked after each manoeuvre, and open to be corrected later. */
export function NoiseHeard({
  run,
  manoeuvre,
  title,
  onChanged,
}: Props & { manoeuvre: RunManoeuvre; title: string }) {
  const { api } = useApp();
  const action = useAction();
  const say = (change: Parameters<typeof api.changeManoeuvre>[2]) =>
    void action.run(async () => {
      await api.changeManoeuvre(run.id, manoeuvre.id, change);
      onChanged();
    });
  return (
    <div class="heard">
      <Choice
        legend={`${title}: was the noise there?`}
        value={manoeuvre.noise ?? ('' as 'unclear')}
        options={HEARD}
        onChoose={(noise) => say({ noise })}
      />
      {manoeuvre.manoeuvre === 'other-gear' && manoeuvre.noise === 'present' && (
        <Choice
          legend="Its pitch, against the gear before"
          value={manoeuvre.pitch ?? ('' as 'same')}
          options={[
            { value: 'same', label: 'Same' },
            { value: 'changed', label: 'Changed' },
          ]}
          onChoose={(pitch) => say({ pitch })}
        />
      )}
      <Failure failure={action.failure.value} />
    </div>
  );
}
