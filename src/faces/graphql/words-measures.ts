/**
 * What each measure is, its unit and the source of its definition, in a sentence. The whole definitions, with every choice that
 * moves a number, are those of the compute core.
 */
import type { MEASURES } from '../../domain/code-lists.ts'

export const MEASURE_WORDS: Readonly<Record<(typeof MEASURES)[number], string>> = {
  peakTorque:
    'Largest muscle torque in the tested direction, N.m; inside the settled part of the load range only (why not outside: Winter, Wells & Orr 1981, Eur J Appl Physiol 46:397-408)',
  angleOfPeakTorque:
    'Joint angle at peak torque, deg from anatomical zero; vertex of a parabola through the torque above 90 % of the peak (engineering choice)',
  torqueAtAngle:
    'Muscle torque at a stated joint angle, N.m; a straight line between samples, inside the load range only (common practice, no source)',
  workPerRepetition:
    'Work of one repetition, J: torque over angle in radians (Winter 2009, Biomechanics and Motor Control of Human Movement)',
  totalWork: 'Work of all counted repetitions of a set together, J',
  averagePower: 'Work over the time it took, W',
  peakPower: 'Largest product of torque and angular velocity in the settled part of the load range, W',
  timeToPeakTorque:
    'Time from the first movement of the limb (isometric: from the onset of torque) to the peak, ms; onset after Maffiuletti 2016, Eur J Appl Physiol 116:1091-1116',
  rateOfTorqueDevelopment:
    'How fast torque rises from its onset to 100 ms, N.m/s; isometric tests only (Aagaard 2002, J Appl Physiol 93:1318-26)',
  impulse:
    'Torque over time, N.m.s; isometric: the first 200 ms from onset (Aagaard 2002, J Appl Physiol 93:1318-26), else over the window of the work',
  rangeOfMotion: 'Angle between the turning points of a movement, deg',
  loadRange:
    'Angle over which the limb moved at the set velocity, deg: the longest stretch within 5 % of it (phases: Findley 2006, J Sports Sci Med 5:400-6; the 5 % from memory)',
  loadRangeDuration: 'Time in the load range, ms',
  peakTorquePerBodyMass: 'Peak torque over body mass, N.m/kg; null without a body mass',
  workPerBodyMass: 'Work of one repetition over body mass, J/kg; null without a body mass',
  averagePowerPerBodyMass: 'Average power over body mass, W/kg; null without a body mass',
  fatigueIndexEdges:
    'Fall of the mean peak torque from the first five to the last five repetitions, % of the first (Thorstensson & Karlsson 1976, Acta Physiol Scand 98:318-22)',
  workFatigueThirds:
    'Fall of the work from the first to the last third of the repetitions, % of the first (from memory)',
  fatigueSlope:
    'Slope of peak torque over the number of the repetition, N.m/{repetition}; least squares (Bosquet 2010, Int J Sports Med)',
  isometricPlateauTorque:
    'Highest mean torque over 500 ms that stays within 10 %, N.m; isometric tests only (common practice, no source)',
}
