import { amplitudeSpectrum, thinByMaximum } from '../dsp/spectrum.ts';
import type { LiveBlock } from '../model.ts';
import type { Block, Segment } from '../timeline/segment.ts';
import { thinByExtremes } from './thin-waveform.ts';

const POINTS = 1024;

/** Waveform and spectrum of one sensor over a block whose samples the segment's tail still holds. */
export function liveBlock(nodeId: string, sensor: number, segment: Segment, block: Block): LiveBlock | null {
  const packet = segment.tail[0]?.packet;
  if (packet === undefined || block.end - block.start < 2) return null;
  const scale = (packet.fullScaleMPerS2 || 1) / 32768;
  let spectrumStepHz = 0;
  const axes = packet.channels.flatMap((channel, index) => {
    if (channel.sensor !== sensor) return [];
    const samples = samplesOf(segment, index, block, scale);
    const spectrum = amplitudeSpectrum(samples, block.rateHz);
    const thinned = thinByMaximum(spectrum.amplitudeRms, POINTS);
    spectrumStepHz = spectrum.stepHz * thinned.step;
    const waveformMPerS2 = thinByExtremes(samples, POINTS);
    return [{ axis: channel.axis, waveformMPerS2, spectrumMPerS2: Array.from(thinned.values) }];
  });
  if (axes.length === 0) return null;
  return { nodeId, sensor, startMs: block.second * 1000, sampleRateHz: block.rateHz, axes, spectrumStepHz };
}

function samplesOf(segment: Segment, channel: number, block: Block, scale: number): Float64Array {
  const samples = new Float64Array(block.end - block.start);
  let sum = 0;
  for (const chunk of segment.tail) {
    const raw = chunk.packet.samples[channel]!;
    const to = Math.min(chunk.end, block.end);
    for (let at = Math.max(chunk.first, block.start); at < to; at++) {
      const value = raw[at - chunk.first]! * scale;
      samples[at - block.start] = value;
      sum += value;
    }
  }
  const mean = sum / samples.length;
  for (let i = 0; i < samples.length; i++) samples[i]! -= mean;
  return samples;
}
