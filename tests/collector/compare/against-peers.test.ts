import { describe, expect, it } from 'vitest';
import { againstPeers, thirdOctaves } from '../../../collector/compare/index.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

const bands = thirdOctaves(25, 1250);
const level = bands.map((_, b) => 110 + b);

describe('the same location on other assets', () => {
  it('stands out where it is far above', () => {
    const own = level.map((db, b) => db + (b === 10 ? 25 : 1));
    const { bands: rows, sentence } = againstPeers({
      bands,
      ownDb: own,
      peersDb: [level.map((v) => v - 1), level, level.map((v) => v + 1.5)],
    });
    expect(rows.filter(({ standing }) => standing !== 'alike').map(({ nominalHz }) => nominalHz)).toEqual([
      bands[10]!.nominalHz,
    ]);
    expect(rows[10]!.differenceDb).toBeCloseTo(25, 10);
    expect(sentence).toMatch(
      /^Louder than its peers in 1 of 16 bands, most with 25\.0 dB above the middle of 3 peers/,
    );
  });

  it('does not make an outlier of the third bus because two are alike', () => {
    const { bands: rows, sentence } = againstPeers({
      bands,
      ownDb: level.map((v) => v + 6),
      peersDb: [level, level],
    });
    expect(rows.every(({ standing }) => standing === 'alike')).toBe(true);
    expect(sentence).toMatch(/^Within what sound peers differ by/);
  });

  it.each([2, 3, 7])('%i peers: sound fleets raise a false alarm in one of twenty at most', (peers) => {
    const random = seededRandom(peers);
    let alarms = 0;
    for (let fleet = 0; fleet < 300; fleet++) {
      const asset = () => level.map((v) => v + 4 * gaussian(random));
      const { bands: rows } = againstPeers({
        bands,
        ownDb: asset(),
        peersDb: Array.from({ length: peers }, asset),
      });
      if (rows.some(({ standing }) => standing !== 'alike')) alarms++;
    }
    expect(alarms / 300).toBeLessThan(0.08);
  });

  it('refuses too few peers and rows that do not fit', () => {
    expect(() => againstPeers({ bands, ownDb: level, peersDb: [level] })).toThrow(/at least 2 are needed/);
    expect(() => againstPeers({ bands, ownDb: level, peersDb: [level, [1, 2]] })).toThrow(
      /2 levels for 16 bands/,
    );
  });
});
