import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { openWav } from '../../collector/wav/open-wav.ts';

/** Recordings lie beside the project, and are no part of it. */
export const SHARED = fileURLToPath(new URL('../../../shared/', import.meta.url));

export const openDataPresent = (): boolean => existsSync(`${SHARED}open-data/index.json`);
export const goldenPresent = (): boolean => existsSync(`${SHARED}golden/index.json`);

export interface OpenBearing {
  rollingElements: number;
  elementDiameterMm: number;
  pitchDiameterMm: number;
  contactAngleDeg: number;
}

export interface OpenRecording {
  id: string;
  file: string;
  dataset: string;
  fullScale: number;
  shaftRpm: number;
  fault: 'none' | 'inner' | 'ball' | 'outer' | 'unknown';
  faultLocation: string | null;
  faultSizeMm: number | null;
  channels: { index: number; location: string }[];
  bearingsOnMachine?: Record<string, string>;
}

export interface GoldenCase {
  file: string;
  fullScale: number;
  expect: { verdict?: string };
  measure: { speedRpm?: number; bearing?: [number, number, number, number] };
}

export function openIndex(): { bearings: Record<string, OpenBearing>; recordings: OpenRecording[] } {
  return JSON.parse(readFileSync(`${SHARED}open-data/index.json`, 'utf8'));
}

export function goldenIndex(): GoldenCase[] {
  return JSON.parse(readFileSync(`${SHARED}golden/index.json`, 'utf8'));
}

/** All channels of a recording, m/s². Full scale is stated in g. */
export async function readChannels(
  path: string,
  fullScaleG: number,
): Promise<{ sampleRateHz: number; channels: Float64Array[] }> {
  const wav = await openWav(path);
  try {
    const channels = Array.from({ length: wav.channelCount }, () => new Float64Array(wav.frameCount));
    let at = 0;
    for await (const piece of wav.chunks(65_536)) {
      piece.forEach((values, c) => {
        for (let k = 0; k < values.length; k++) channels[c]![at + k] = values[k]! * fullScaleG * 9.80665;
      });
      at += piece[0]!.length;
    }
    return { sampleRateHz: wav.sampleRateHz, channels };
  } finally {
    await wav.close();
  }
}
