/** What can hurt people at this work, and what this station cannot know. */
import { ZONE_LIMITS } from './zones.ts';

export const CAUTIONS: readonly { heading: string; points: readonly string[] }[] = [
  {
    heading: 'Lifted vehicle with turning wheels',
    points: [
      'Driven wheels must be clear of the ground, of the lift’s arms and of people. Stand to the side, never in line with a turning wheel or shaft.',
      'Set a speed limit before you start and keep to it. With an open differential and one wheel held, the free wheel turns at twice the speed the speedometer shows.',
      'Hanging wheels put joints and propeller shafts at their full angle: vibration there may come from the lift alone, and a joint can be damaged. Keep it short and slow, or support the suspension near ride height.',
      'Vehicles with four-wheel drive: all driven wheels off the ground, or none. Follow the maker’s instructions.',
    ],
  },
  {
    heading: 'Exhaust',
    points: [
      'Running an engine indoors needs exhaust extraction and fresh air. Carbon monoxide has no smell.',
    ],
  },
  {
    heading: 'Sensors, batteries and cables',
    points: [
      'Keep them away from heat, turning shafts, belts, brakes, airbags and steering. Pull at each clamp before the vehicle moves.',
      'Tie cables so that they cannot reach anything that turns, even when a clamp comes off.',
      'Do not clamp to brake or fuel lines, or to anything that must move freely.',
    ],
  },
  {
    heading: 'On the road',
    points: [
      'The driver wears no headphones and watches no screen. A passenger operates the station, or it runs by itself and is read after the stop.',
      'Put away everything loose: in a hard stop it flies.',
      'A vehicle that may be unsafe is not driven to find out.',
    ],
  },
  {
    heading: 'Vehicle electronics',
    points: ['The station only reads the vehicle’s data bus. Connect nothing to it that sends commands.'],
  },
  {
    heading: 'Listening',
    points: [
      'Limit the output level before anyone puts headphones on, and start low: a knock or a slipping clamp is loud.',
    ],
  },
  {
    heading: 'What a level does not tell',
    points: [
      ZONE_LIMITS,
      'A low level is no proof that a part is sound: brakes, steering and tyres can fail without vibrating first.',
      'No sensor shows what it cannot reach: each screen states the band it measured.',
    ],
  },
];
