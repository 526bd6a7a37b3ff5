import type { AnalysisParameters } from './types.ts'

/**
 * The choices an analysis is made with when nobody chose otherwise.
 *
 * - Load range: within 5 % of the set velocity, at least min(30 deg, 30 % of the motion) and 100 ms. The 5 % band is
 *   common practice (from memory); the rest is an engineering choice without a source.
 * - Cutoffs rise with the set velocity because the best cutoff does (Murray 1986, Med Sci Sports Exerc 18:603-11). The
 *   numbers themselves are an engineering choice inside the usual 6 to 20 Hz (from memory).
 *   Isometric: higher, because at 12 Hz a brisk rise overshoots its plateau by more than 1 %.
 * - Rate of torque development: 150 Hz and a 1 N.m onset as the reference processing of White 2024 (Sensors 24:4250);
 *   the three-deviation rule keeps noise from being an onset. Windows: Aagaard 2002 (J Appl Physiol 93:1318-26).
 * - Plateau and fatigue rules: common practice, no source.
 */
export const DEFAULT_PARAMETERS: AnalysisParameters = {
  filter: {
    kind: 'butterworth_zero_phase',
    orderPerPass: 2,
    cutoffs: [
      { upToDegS: 60, cutoffHz: 12 },
      { upToDegS: 120, cutoffHz: 14 },
      { upToDegS: 180, cutoffHz: 16 },
      { upToDegS: 240, cutoffHz: 18 },
      { upToDegS: 500, cutoffHz: 20 },
    ],
    isometricCutoffHz: 25,
    kinematicCutoffMultiple: 2,
    derivedVelocityNoisePercent: 1.2,
    rateOfTorqueDevelopmentCutoffHz: 150,
  },
  loadRange: {
    bandPercent: 5,
    minimumRangeDeg: 30,
    minimumPercentOfMotion: 30,
    minimumDurationMs: 100,
    bridgeMs: 20,
    settledPercent: 2,
    settleMs: 80,
    settleMarginMs: 10,
    continueMs: 25,
  },
  movement: { minimumRangeDeg: 10, minimumPercentOfLargest: 25, minimumPercentOfSetVelocity: 50 },
  edgePercent: 5,
  peakAngleFitAbovePercent: 90,
  workWindow: 'load_range',
  torqueAtAnglesDeg: [30, 60],
  isometric: {
    contractionPercentOfLargest: 30,
    contractionFloorNm: 3,
    minimumDurationMs: 300,
    onset: { kind: 'baseline_deviation', standardDeviations: 3, atLeastNm: 1 },
    rateOfTorqueDevelopmentWindowsMs: [30, 50, 100, 200],
    rateOfTorqueDevelopmentWindowMs: 100,
    impulseWindowMs: 200,
    plateau: { windowMs: 500, maximumSpreadPercent: 10 },
    maximumAngleChangeDeg: 5,
  },
  fatigue: { edgeRepetitions: 5, minimumRepetitions: 10 },
  recording: {
    minimumSampleRateHz: 50,
    maximumSampleRateHz: 5000,
    unevenPercent: 1,
    maximumGapMs: 20,
  },
}
