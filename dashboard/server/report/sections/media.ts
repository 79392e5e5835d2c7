import { significant } from '../../../contract/words/figures.ts';
import type { Clip, ReportMedia } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { spectrogramPicture } from '../svg/spectrogram.ts';
import { bytesText, sentence } from '../words.ts';

const WHAT = { noise: 'with the noise', quiet: 'without the noise', whole: 'nothing was marked' };

/** What was felt, to be heard and seen. */
export function media({ clips, spectrogram, notes }: ReportMedia): Markup {
  const bytes = clips.reduce((sum, { wav }) => sum + wav.length, 0);
  return html`<section><h2>Hear it</h2>
${
  clips.length === 0
    ? html`<p class="none">There is no sound in this report.</p>`
    : html`<p>All are equally loud here, so that ears compare their character; the figures say how strong each was. Turn the volume down before headphones go on.</p>
<ul class="clips">${clips.map((clip, index) => oneClip(clip, clips[0]!, index))}</ul>
<p class="hint">Acceleration made audible, from 20 Hz up to ${Math.round(Math.max(...clips.map(({ recordedToHz }) => recordedToHz)))} Hz, 16 bits, uncompressed; ${bytesText(bytes)} in all. On paper there is no sound: open the file on a screen.</p>`
}
${notes.map((text) => html`<p class="hint">${sentence(text)}</p>`)}
</section>
${
  spectrogram === null
    ? null
    : html`<section><h2>See it</h2><figure>${spectrogramPicture(spectrogram)}
<figcaption>Spectrogram of the ${spectrogram.place}. The darker, the stronger: white is ${Math.round(spectrogram.lowDb)} dB and less, the darkest ${Math.round(spectrogram.highDb)} dB re 1 µm/s², all axes together.</figcaption></figure></section>`
}`;
}

function oneClip(clip: Clip, first: Clip, index: number): Markup {
  const { place, what, fromS, seconds, rmsMPerS2, axis } = clip;
  const name = `${place.charAt(0).toUpperCase()}${place.slice(1)}, ${WHAT[what]}`;
  const where = axis === 'single' ? '' : `, axis ${axis.toUpperCase()}`;
  return html`<li><p id="clip-${index}"><strong>${name}</strong>: ${seconds.toFixed(1)} s from second ${fromS.toFixed(0)}${where}; ${rmsMPerS2 === null ? 'strength not known' : `${significant(rmsMPerS2)} m/s² RMS`}${index === 0 ? null : below(clip, first)}.</p>
<audio controls preload="metadata" aria-labelledby="clip-${index}" src="data:audio/wav;base64,${clip.wav.toString('base64')}"></audio></li>`;
}

function below(clip: Clip, first: Clip): string {
  if (!clip.rmsMPerS2 || !first.rmsMPerS2) return '';
  const db = 20 * Math.log10(clip.rmsMPerS2 / first.rmsMPerS2);
  return `, ${Math.abs(db).toFixed(1)} dB ${db < 0 ? 'below' : 'above'} the first`;
}
