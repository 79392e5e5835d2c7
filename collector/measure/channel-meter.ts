import type { AxisValues, Flag } from '../model.ts';

/** Values of one block of one channel; `moments` let blocks be merged into longer stretches exactly. */
export interface ChannelBlock extends Omit<AxisValues, 'axis'> {
  sampleCount: number;
  flags: Flag[];
}

/**
 * Measures one channel as samples arrive. The caller feeds contiguous samples and closes a block wherever it
 * likes (the station: at each whole second); filter state runs on across blocks. After a gap: a new meter.
 */
export interface ChannelMeter {
  readonly bandHz: [number, number];
  /** `acceleration` in m/s². */
  feed(acceleration: Float64Array): void;
  closeBlock(): ChannelBlock;
}
