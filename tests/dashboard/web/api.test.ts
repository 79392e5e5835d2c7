import { describe, expect, it, vi } from 'vitest';
import { ApiFailure, createApi } from '../../../dashboard/web/api.ts';

const answering = (status: number, body: string) =>
  vi.fn<typeof fetch>(async () => new Response(body === '' ? null : body, { status }));

describe('a call', () => {
  it('sends JSON and returns what the station answered', async () => {
    const fetcher = answering(200, '{"id":3}');
    const api = createApi(fetcher, () => {});
    await expect(api.addLocation(3, { name: 'Motor', component: 'Fan' })).resolves.toEqual({ id: 3 });
    const [path, init] = fetcher.mock.calls[0]!;
    expect(path).toBe('/api/assets/3/locations');
    expect(init).toMatchObject({ method: 'POST', body: '{"name":"Motor","component":"Fan"}' });
  });

  it('puts a trend’s choices into the address', async () => {
    const fetcher = answering(200, '{}');
    await createApi(fetcher, () => {}).trend(5, { fromMs: 0, toMs: 9, points: 10, value: 'kurtosis' });
    expect(fetcher.mock.calls[0]![0]).toBe('/api/locations/5/trend?fromMs=0&toMs=9&points=10&value=kurtosis');
  });

  it('takes an empty answer', async () => {
    await expect(createApi(answering(204, ''), () => {}).deleteAsset(1)).resolves.toBeUndefined();
  });
});

describe('a refusal', () => {
  const failureOf = async (fetcher: typeof fetch, onSignedOut = () => {}) => {
    const error = await createApi(fetcher, onSignedOut)
      .assets()
      .catch((thrown: unknown) => thrown);
    expect(error).toBeInstanceOf(ApiFailure);
    return error as ApiFailure;
  };

  it('carries the message and the remedy of the station', async () => {
    const body =
      '{"code":"NODE_KNOWN","message":"This node is enrolled already.","remedy":"Revoke it first."}';
    expect(await failureOf(answering(409, body))).toMatchObject({
      status: 409,
      code: 'NODE_KNOWN',
      message: 'This node is enrolled already.',
      remedy: 'Revoke it first.',
    });
  });

  it('says what to do when no station answers', async () => {
    const failure = await failureOf(async () => {
      throw new TypeError('fetch failed');
    });
    expect(failure.code).toBe('STATION_UNREACHABLE');
    expect(failure.remedy).toMatch(/network/);
  });

  it('stays readable when a proxy answers instead of the station', async () => {
    const failure = await failureOf(answering(502, '<html>Bad gateway</html>'));
    expect(failure.code).toBe('HTTP_502');
    expect(failure.message).toMatch(/502/);
  });

  it('notices that the session is over, but takes a wrong password for what it is', async () => {
    const signedOut = vi.fn();
    const fetcher = answering(401, '{"code":"LOGIN_NEEDED","message":"Sign in."}');
    await failureOf(fetcher, signedOut);
    expect(signedOut).toHaveBeenCalledTimes(1);
    await createApi(fetcher, signedOut)
      .login({ name: 'Ines', password: 'wrong' })
      .catch(() => {});
    expect(signedOut).toHaveBeenCalledTimes(1);
  });
});
