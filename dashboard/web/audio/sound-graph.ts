/** How sounds of several locations are played against each other. Imports nothing, so that tests can measure it alone. */

export interface PlayableSound {
  locationId: number;
  buffer: AudioBuffer;
  /** Of the samples in the buffer, full scale = 1. */
  rms: number;
  /** Acceleration at full scale, m/s²; 0 where it is not known. */
  fullScaleMPerS2: number;
}

/** What a sound is brought to, before the volume: -26 dB of full scale, quiet enough for knocks to stay whole. */
export const TARGET_RMS = 0.05;
/** No sample leaves louder than this, whatever the volume: -9 dB of full scale. */
export const LIMIT = 0.355;
/** A gain beyond this would only play the quantisation of a silent sensor. */
const MOST_GAIN = 40;
/** Between two locations: long enough not to click, short enough to compare. */
const SWITCH_S = 0.02;

/**
 * Gain of each sound. Matched: all equally loud, so that only the character tells them apart. Else as loud against each
 * other as they were, the loudest at the target; sounds without a known scale are then silent.
 */
export function gainsOf(sounds: readonly PlayableSound[], matched: boolean): Map<number, number> {
  const loudest = Math.max(...sounds.map(({ rms, fullScaleMPerS2 }) => rms * fullScaleMPerS2));
  return new Map(
    sounds.map(({ locationId, rms, fullScaleMPerS2 }) => {
      const gain = matched ? TARGET_RMS / rms : loudest > 0 ? (TARGET_RMS * fullScaleMPerS2) / loudest : 0;
      return [locationId, rms > 0 ? Math.min(MOST_GAIN, gain) : 0];
    }),
  );
}

export interface SoundGraph {
  /** From here on this location is heard; all of them run on in step. */
  select(locationId: number, atS: number): void;
  match(matched: boolean, atS: number): void;
  /** 0 to 1. */
  setVolume(volume: number): void;
  start(atS: number, options: { speed: number; loop: boolean }): void;
  stop(): void;
  onEnded(listener: () => void): void;
}

/** Sources, switches, volume and limiter on any audio context. */
export function buildSoundGraph(context: BaseAudioContext, sounds: readonly PlayableSound[]): SoundGraph {
  const volume = context.createGain();
  const limiter = context.createWaveShaper();
  // Straight up to the limit, flat beyond: a hard stop for ears, hardly ever reached.
  limiter.curve = new Float32Array([-LIMIT, ...ramp(), LIMIT]);
  volume.connect(limiter);
  limiter.connect(context.destination);
  const lines = sounds.map((sound) => {
    const gain = context.createGain();
    gain.gain.value = 0;
    gain.connect(volume);
    return { sound, gain, source: null as AudioBufferSourceNode | null };
  });
  let gains = gainsOf(sounds, true);
  let selected = sounds[0]?.locationId ?? 0;
  let ended: () => void = () => undefined;

  function apply(atS: number): void {
    for (const { sound, gain } of lines) {
      const target = sound.locationId === selected ? (gains.get(sound.locationId) ?? 0) : 0;
      gain.gain.cancelScheduledValues(atS);
      gain.gain.setTargetAtTime(target, atS, SWITCH_S / 4);
    }
  }

  function stop(): void {
    for (const line of lines) {
      if (line.source === null) continue;
      line.source.onended = null;
      line.source.stop();
      line.source.disconnect();
      line.source = null;
    }
  }

  return {
    select(locationId, atS) {
      selected = locationId;
      apply(atS);
    },
    match(matched, atS) {
      gains = gainsOf(sounds, matched);
      apply(atS);
    },
    setVolume(value) {
      // Squared: steps of a slider then sound about even.
      volume.gain.value = Math.max(0, Math.min(1, value)) ** 2 * 4;
    },
    start(atS, { speed, loop }) {
      stop();
      apply(atS);
      for (const line of lines) {
        const source = context.createBufferSource();
        source.buffer = line.sound.buffer;
        // Slower is lower too, as a tape is: a whine above hearing comes down with it.
        source.playbackRate.value = speed;
        source.loop = loop;
        source.connect(line.gain);
        source.start(atS);
        line.source = source;
      }
      const first = lines[0]?.source;
      if (first) first.onended = () => ended();
    },
    stop,
    onEnded(listener) {
      ended = listener;
    },
  };
}

/** Inner points of the limiter's curve: input -1 to 1. */
function ramp(): number[] {
  const points = 1023;
  return Array.from({ length: points }, (_, i) => {
    const input = -1 + (2 * (i + 1)) / (points + 1);
    return Math.max(-LIMIT, Math.min(LIMIT, input));
  });
}
