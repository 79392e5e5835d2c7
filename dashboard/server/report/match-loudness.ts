/** Sounds made equally loud, so that ears compare their character and not their level. Pure. */

const HEADER_BYTES = 44;
/** About as loud as speech in a player; lower where a sound has sharp peaks. */
const WISHED_RMS = 0.1;
/** The loudest sample lies 1 dB below full scale, so that no player's own resampling clips. */
const HIGHEST_PEAK = 10 ** (-1 / 20);

/**
 * The same mono WAV files of 16 bits, all at one root mean square, none of them clipped: the one with the sharpest peaks
 * sets how loud all can be. A silent one stays silent.
 */
export function matchLoudness(wavs: readonly Uint8Array[]): Buffer[] {
  const copies = wavs.map((wav) => Buffer.from(wav));
  const levels = copies.map(levelOf);
  const common = levels.reduce(
    (least, { rms, peak }) => (rms > 0 ? Math.min(least, (HIGHEST_PEAK * rms) / peak) : least),
    WISHED_RMS,
  );
  copies.forEach((wav, k) => {
    const { rms } = levels[k]!;
    if (rms === 0) return;
    for (let at = HEADER_BYTES; at + 1 < wav.length; at += 2)
      wav.writeInt16LE(Math.round((wav.readInt16LE(at) * common) / rms), at);
  });
  return copies;
}

/** As shares of full scale. */
function levelOf(wav: Buffer): { rms: number; peak: number } {
  let [power, peak, count] = [0, 0, 0];
  for (let at = HEADER_BYTES; at + 1 < wav.length; at += 2) {
    const value = wav.readInt16LE(at) / 32768;
    power += value * value;
    peak = Math.max(peak, Math.abs(value));
    count++;
  }
  return { rms: count === 0 ? 0 : Math.sqrt(power / count), peak };
}
