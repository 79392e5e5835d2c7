import { describe, expect, it } from 'vitest';
import { placeNamed, readDescription } from '../../../dashboard/web/state/recording-description.ts';

describe('the description beside a WAV file', () => {
  it('is read as the station writes it', () => {
    const written = {
      format: 'clampline-recording',
      version: 1,
      startMs: 1_735_732_800_000,
      sampleRateHz: 3199.2,
      fullScale: 156.9,
      unit: 'm/s2',
      channels: [{ channel: 1, name: 'pinion bearing of the rear axle', axis: 'x', board: 'a1' }],
      gaps: [],
    };
    expect(readDescription(JSON.stringify(written))).toEqual({
      startMs: 1_735_732_800_000,
      sampleRateHz: 3199.2,
      fullScale: 156.9,
      unit: 'm/s2',
      channels: [{ channel: 1, name: 'pinion bearing of the rear axle', axis: 'x' }],
      marks: [],
    });
  });

  it('may hold little, and channels in their order', () => {
    expect(readDescription('{"fullScale":16,"unit":"g","channels":[{},{"name":"Foot","axis":"z"}]}')).toEqual(
      {
        fullScale: 16,
        unit: 'g',
        channels: [
          { channel: 0, name: '', axis: 'single' },
          { channel: 1, name: 'Foot', axis: 'z' },
        ],
        marks: [],
      },
    );
  });

  it.each([
    ['no json', /not JSON/],
    ['[]', /must be a JSON object/],
    ['{"fullScale":"16"}', /"fullScale" .* number over 0/],
    ['{"unit":"furlong"}', /"unit"/],
    ['{"channels":3}', /lists of objects/],
    ['{"channels":[{"axis":"up"}]}', /^Channel 1/],
    ['{"marks":[{"fromS":5,"toS":1}]}', /^Mark 1/],
  ])('says what is wrong with %s', (text, message) => {
    expect(() => readDescription(text)).toThrow(message);
  });

  it('names locations as people and as the station write them, and guesses none of two', () => {
    const places = [
      { id: 7, name: 'Output bearing', component: 'Gearbox' },
      { id: 8, name: 'Pinion bearing', component: 'Rear axle' },
      { id: 9, name: 'Pinion bearing', component: 'Front axle' },
    ];
    expect(placeNamed('output bearing', places)).toBe(7);
    expect(placeNamed('Rear axle: Pinion bearing', places)).toBe(8);
    expect(placeNamed('pinion bearing of the front axle', places)).toBe(9);
    expect(placeNamed('Pinion bearing', places)).toBeNull();
    expect(placeNamed('channel 1', places)).toBeNull();
  });
});
