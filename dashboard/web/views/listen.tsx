/** Listening to the locations of a run: the same moment at each, equally loud, in a band, slowed. */
import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Run } from '../../contract/runs.ts';
import { fetchSound, type SoundFacts } from '../audio/fetch-sound.ts';
import { buildSoundGraph, type PlayableSound, type SoundGraph } from '../audio/sound-graph.ts';
import { axisName, clock, significant } from '../format.ts';
import { elapsed } from '../run-words.ts';
import { Failure, useAction } from './actions.tsx';
import { Choice } from './forms.tsx';

interface Props {
  run: Run;
  /** Band of the verdict, to listen around. */
  bandHz: readonly number[] | null;
  /** Where to begin, Unix ms; set from outside (a click into the spectrogram). */
  fromMs: number;
  onMove(fromMs: number): void;
  locationId: number;
  onLocation(locationId: number): void;
}

type Loaded = PlayableSound & SoundFacts;
const LENGTHS = ['5', '10', '20'] as const;
const SPEEDS = ['1', '0.5', '0.25'] as const;

export function Listen({ run, bandHz, fromMs, onMove, locationId, onLocation }: Props) {
  const length = useSignal<(typeof LENGTHS)[number]>('10');
  const speed = useSignal<(typeof SPEEDS)[number]>('1');
  const band = useSignal<'all' | 'verdict'>('all');
  const matched = useSignal<'matched' | 'true'>('matched');
  const volume = useSignal(0.35);
  const playing = useSignal(false);
  const facts = useSignal<readonly Loaded[]>([]);
  const action = useAction();
  const player = useRef<{ context: AudioContext; graph: SoundGraph; key: string } | null>(null);

  const endMs = run.endMs ?? run.startMs;
  const toMs = Math.min(endMs, fromMs + 1000 * Number(length.value));
  const around =
    band.value === 'verdict' && bandHz
      ? `&lowHz=${Math.floor(bandHz[0]!)}&highHz=${Math.ceil(bandHz[1]!)}`
      : '';
  const soundUrl = (id: number) =>
    `/api/runs/${run.id}/sound?locationId=${id}&fromMs=${Math.round(fromMs)}&toMs=${Math.round(toMs)}${around}`;
  const key = soundUrl(0);

  function stop(): void {
    player.current?.graph.stop();
    playing.value = false;
  }
  useEffect(
    () => () => {
      player.current?.graph.stop();
      void player.current?.context.close();
      player.current = null;
    },
    [],
  );

  const play = () =>
    action.run(async () => {
      stop();
      const context = player.current?.context ?? new AudioContext();
      await context.resume();
      if (player.current?.key !== key) {
        // A location without samples in this part must not silence the others.
        const asked = await Promise.allSettled(
          run.locations.map(({ id }) => fetchSound(context, soundUrl(id), id)),
        );
        const sounds = asked.flatMap((one) => (one.status === 'fulfilled' ? [one.value] : []));
        const failed = asked.find((one) => one.status === 'rejected');
        if (sounds.length === 0) throw failed?.reason;
        facts.value = sounds;
        player.current = { context, graph: buildSoundGraph(context, sounds), key };
      }
      const { graph } = player.current!;
      graph.setVolume(volume.value);
      graph.match(matched.value === 'matched', context.currentTime);
      graph.select(locationId, context.currentTime);
      graph.onEnded(() => {
        playing.value = false;
      });
      graph.start(context.currentTime + 0.05, { speed: Number(speed.value), loop: true });
      playing.value = true;
    });

  const now = () => player.current?.context.currentTime ?? 0;
  const heard = facts.value.find((sound) => sound.locationId === locationId);
  return (
    <section class="panel" aria-labelledby="listen-heading">
      <h2 id="listen-heading">Listen</h2>
      <p class="caution-line">
        The driver wears no headphones. Start low: a knock or a slipping clamp is loud. The output is limited
        to a third of full scale.
      </p>
      <label class="select">
        From {elapsed(fromMs - run.startMs)} ({clock(fromMs, true)}) for {length.value} s
        <input
          type="range"
          min={run.startMs}
          max={Math.max(run.startMs, endMs - 1000)}
          step={500}
          value={fromMs}
          onInput={(event) => {
            stop();
            onMove(Number(event.currentTarget.value));
          }}
        />
      </label>
      <div class="choices">
        <Choice
          legend="Length"
          value={length.value}
          options={LENGTHS.map((value) => ({ value, label: `${value} s` }))}
          onChoose={(value) => {
            stop();
            length.value = value;
          }}
        />
        <Choice
          legend="Speed"
          value={speed.value}
          options={SPEEDS.map((value) => ({ value, label: value === '1' ? 'As it was' : `× ${value}` }))}
          onChoose={(value) => {
            stop();
            speed.value = value;
          }}
        />
        {bandHz && (
          <Choice
            legend="Band"
            value={band.value}
            options={[
              { value: 'all', label: 'All' },
              {
                value: 'verdict',
                label: `${significant(bandHz[0]!, 2)} to ${significant(bandHz[1]!, 2)} Hz`,
              },
            ]}
            onChoose={(value) => {
              stop();
              band.value = value;
            }}
          />
        )}
        <Choice
          legend="Loudness"
          value={matched.value}
          options={[
            { value: 'matched', label: 'All alike' },
            { value: 'true', label: 'As measured' },
          ]}
          onChoose={(value) => {
            matched.value = value;
            player.current?.graph.match(value === 'matched', now());
          }}
        />
      </div>
      <Choice
        legend="Location, also while playing"
        value={String(locationId)}
        options={run.locations.map(({ id, name }) => ({ value: String(id), label: name }))}
        onChoose={(value) => {
          onLocation(Number(value));
          player.current?.graph.select(Number(value), now());
        }}
      />
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
            player.current?.graph.setVolume(volume.value);
          }}
        />
      </label>
      <div class="buttons">
        {playing.value ? (
          <button type="button" class="main" onClick={stop}>
            Stop
          </button>
        ) : (
          <button type="button" class="main" disabled={action.busy.value} onClick={() => void play()}>
            {action.busy.value ? 'Cutting the sound…' : 'Play'}
          </button>
        )}
        <a class="button" href={soundUrl(locationId)} download={`run-${run.id}-sound.wav`}>
          Save this sound (WAV)
        </a>
        <a class="button" href={`/api/runs/${run.id}/recording.wav?locationId=${locationId}`} download>
          Save the samples (WAV)
        </a>
        <a class="button" href={`/api/runs/${run.id}/recording.json?locationId=${locationId}`} download>
          Their scale and times (JSON)
        </a>
      </div>
      <p role="status" class="hint">
        {playing.value && heard
          ? `Playing ${run.locations.find(({ id }) => id === locationId)?.name ?? ''}, ${heard.axis === 'single' ? '' : `${axisName(heard.axis)} axis, `}${significant(heard.rmsMPerS2)} m/s² RMS, over and over.${heard.gapMs > 0 ? ` ${(heard.gapMs / 1000).toFixed(1)} s of it are missing and silent.` : ''}`
          : ''}
      </p>
      <Failure failure={action.failure.value} />
    </section>
  );
}
