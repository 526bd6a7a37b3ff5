/** The question that the bench asks over GraphQL: the trends of both limbs, symmetry, criteria, and the next setup. */
const TREND = `joint: knee, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal,
  velocity: "60 deg/s", measure: peakTorque, statistic: best`
const CHANGE = 'verdict reason difference { value unit } cautions'
const POINT = `resultId sessionId at quantity { value unit } run baseline flags
  changeFromPrevious { ${CHANGE} } changeFromRunStart { ${CHANGE} }`
export const QUERY = `query($subject: ID!, $episode: ID!, $dynamometer: ID!) {
  subject(id: $subject) {
    left: strengthTrend(side: left, ${TREND}) { points { ${POINT} } runs { run pointCount slope { value unit verdict } } multiplicity }
    right: strengthTrend(side: right, ${TREND}) { points { ${POINT} } runs { run pointCount slope { value unit verdict } } multiplicity }
    symmetry(${TREND}) { points { at left { value } right { value } limbSymmetryIndex { value interval { low high } } weakerSide setupsMatch } }
  }
  episode(id: $episode) { readiness(criteriaSet: "kyritsis-2016") { overall counts { met notMet notAssessable } criteria { key verdict reason observed { value word } } } }
  nextSetup(subjectId: $subject, joint: knee, side: right, dynamometerId: $dynamometer) {
    chairAndMachine { key label value { value unit word } origin } fittingTheSubject { key label value { value unit word } origin } measureAgain { what } warnings { code message } notes
  }
}`
