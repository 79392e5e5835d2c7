import { ApiFailure } from '../api.ts';
import type { PlayableSound } from './sound-graph.ts';

export interface SoundFacts {
  axis: string;
  rmsMPerS2: number;
  gapMs: number;
  recordedToHz: number;
}

/** Reads one sound of the station. @throws ApiFailure */
export async function fetchSound(
  context: BaseAudioContext,
  url: string,
  locationId: number,
): Promise<PlayableSound & SoundFacts> {
  const response = await fetch(url);
  if (!response.ok) {
    const unexplained = { code: `HTTP_${response.status}`, message: 'The station sent no sound.' };
    throw new ApiFailure(response.status, await response.json().catch(() => unexplained));
  }
  const number = (name: string) => Number(response.headers.get(`clampline-${name}`) ?? 0);
  const buffer = await context.decodeAudioData(await response.arrayBuffer());
  return {
    locationId,
    buffer,
    rms: rmsOf(buffer),
    fullScaleMPerS2: number('full-scale-m-per-s2'),
    axis: response.headers.get('clampline-axis') ?? '',
    rmsMPerS2: number('rms-m-per-s2'),
    gapMs: number('gap-ms'),
    recordedToHz: number('recorded-to-hz'),
  };
}

/** Over what is there: exact zeros are gaps. */
function rmsOf(buffer: AudioBuffer): number {
  const samples = buffer.getChannelData(0);
  let [sum, count] = [0, 0];
  for (const value of samples) {
    if (value === 0) continue;
    sum += value * value;
    count += 1;
  }
  return count === 0 ? 0 : Math.sqrt(sum / count);
}
