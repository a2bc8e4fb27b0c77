// Made from api.json by scripts/types.mjs; do not edit.

/** Low and high at 95 %. */
export type Interval = [number, number];

/** A path's vertex: easting, northing, level, and the bulge of the way on. */
export type Vertex = [number, number, number | null, number];

/** Numbers one after the other: the places of a ring or a way, or the corners of a triangle. */
export type Flat = number[];

export interface Failure {
  status: string;
  sentence: string;
  page: string;
  row: number;
  column: number;
  changes?: Change[];
}

export interface Change {
  revision: number;
  at: string;
  who: string;
  why: string;
  undone: boolean;
  rows: number;
}

export interface History {
  revision: number;
  changes: Change[];
}

export interface Done {
  revision: number;
  warnings?: string[];
  notes?: string;
}

export interface Stepped {
  revision: number;
  undone?: string;
  redone?: string;
  warnings?: string[];
}

export interface WorksDone {
  revision: number;
  works: unknown;
}

export interface Gear {
  name: string;
  source: string;
  preset: boolean;
  distance_m: number;
  distance_ppm: number;
  angle_rad: number;
  zenith_rad: number;
  centring_m: number;
  plan_m: number;
  height_m: number;
  staff_m: number;
  levelled_km_m: number;
  leg_m: number;
}

export interface GearList {
  gear: Gear[];
}

export interface Row {
  id: number;
  line: number;
  record: string;
  cells: string[];
  set_aside: string | null;
}

export interface Page {
  id: number;
  name: string;
  kind: string;
  visit: string;
  gear: string;
  site_frame: boolean;
  header: string;
  columns: string[];
  rows: Row[];
}

export interface FeatureVertex {
  point: string;
  edge: 'straight' | 'arc' | 'circle' | 'curve';
  ring: number;
}

export interface Path {
  closed: boolean;
  vertices: Vertex[];
}

export interface Feature {
  name: string;
  code: string;
  kind: 'line' | 'area' | 'spot';
  role: string;
  points: FeatureVertex[];
  paths: Path[];
  missing: string;
  length_m?: number | null;
  length_m_interval?: Interval;
  area_m2?: number | null;
  area_m2_interval?: Interval;
}

export interface Layer {
  material: string;
  thickness: string | number;
}

export interface WorkDefinition {
  name: string;
  kind: string;
  in?: string;
  of?: string;
  along?: string;
  level?: string | number;
  at?: unknown;
  fall?: string | number;
  towards?: unknown;
  depth?: string | number;
  layers?: Layer[];
  strip?: string | number;
  soil?: string;
  points?: Flat[];
  triangles?: Flat[];
}

export interface Work {
  name: string;
  position: number;
  definition: WorkDefinition;
}

export interface SiteStake {
  stake: string;
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  code?: string;
}

export interface FinishedMesh {
  vertices: number[];
  triangles: number[];
  owners: number[];
}

export interface Mesh {
  vertices: number[];
  triangles: number[];
}

export interface Site {
  title: string;
  units: 'metric' | 'imperial';
  revision: number;
  settings: Record<string, string>;
  visits: string[];
  pages: Page[];
  features: Feature[];
  works: Work[];
  sheets: string[];
  stakes: SiteStake[];
  ground?: Mesh | null;
  finished?: FinishedMesh | null;
}

export interface Ellipse {
  semi_major_m: number | null;
  semi_minor_m: number | null;
  bearing_deg: number | null;
}

export interface AdjustedPoint {
  point: string;
  code: string;
  easting_m: number | null;
  northing_m: number | null;
  elevation_m: number | null;
  sd_easting_m: number | null;
  sd_northing_m: number | null;
  sd_elevation_m: number | null;
  ellipse: Ellipse | null;
  readings: number;
  held_plan: boolean;
  held_height: boolean;
}

export interface Observation {
  visit: string;
  page: string;
  row: number;
  reading_id: number;
  kind: string;
  from: string;
  to: string;
  unit: 'm' | 'deg';
  observed: number;
  adjusted: number;
  residual: number;
  sd: number;
  redundancy: number;
  standardized: number;
  smallest_error: number | null;
}

export interface Suspect {
  visit: string;
  page: string;
  row: number;
  reading_id: number;
  kind: string;
  from: string;
  to: string;
  estimated_error: number;
  unit: 'm' | 'deg';
  alone: boolean;
  slip: string;
  corrected: number | null;
  sentence: string;
}

export interface LeftOut {
  page: string;
  row: number;
  reading_id: number;
  sentence: string;
}

export interface GearFactor {
  visit: string;
  gear: string;
  kind: string;
  factor: number | null;
  redundancy: number | null;
  sentence: string;
}

export interface Frame {
  visit: string;
  determined: boolean;
  shift_e_m: number | null;
  shift_n_m: number | null;
  shift_h_m: number | null;
  turn_deg: number | null;
  sd_turn_deg: number | null;
}

export interface GlobalTest {
  statistic: number | null;
  lower: number | null;
  upper: number | null;
  passed: boolean;
}

export interface Adjustment {
  points: AdjustedPoint[];
  observations: Observation[];
  observation_count: number;
  left_out: LeftOut[];
  gear_factors: GearFactor[];
  gear_factors_applied: boolean;
  degrees_of_freedom: number;
  sigma0: number;
  global_test: GlobalTest;
  suspects: Suspect[];
  undetermined: string[];
  undetermined_why: string[];
  frames: Frame[];
  sd_scale: number;
  datum: string;
  unit_doubt?: string;
  iterations: number;
}

export interface Ground {
  points: number;
  triangles: number;
  plan_area_m2: number;
  plan_area_m2_interval: Interval | null;
  slope_area_m2: number;
  lowest_m: number;
  highest_m: number;
  warnings: string[];
  where_next?: WhereNext[];
}

export interface WhereNext {
  easting_m: number;
  northing_m: number;
  sd_m: number;
  left_share: number;
  sentence: string;
}

export interface ContourLine {
  type: string;
  properties: ContourAbout;
  geometry: LineGeometry;
}

export interface ContourAbout {
  elevation_m: number;
  index: boolean;
  closed: boolean;
}

export interface LineGeometry {
  type: string;
  coordinates: number[][];
}

export interface Contours {
  type: string;
  interval_m: number;
  features: ContourLine[];
}

export interface ProfilePoint {
  chainage_m: number;
  elevation_m: number | null;
  easting_m: number;
  northing_m: number;
}

export interface Profile {
  points: ProfilePoint[];
  run_m: number;
  rise_m: number;
  fall_m: number;
  from_m: number | null;
  to_m: number | null;
}

export interface SectionPoint {
  chainage_m: number;
  easting_m: number;
  northing_m: number;
  existing_m: number | null;
  stripped_m: number | null;
  formation_m: number | null;
  finished_m: number | null;
  element: string | null;
}

export interface LongSection {
  points: SectionPoint[];
  cut_m2: number;
  fill_m2: number;
}

export interface Station {
  points: SectionPoint[];
  cut_m2: number;
  fill_m2: number;
  chainage_m: number;
  cut_m3: number;
  fill_m3: number;
  mass_m3: number;
}

export interface Sections {
  along: string;
  long_section: LongSection;
  stations: Station[];
}

export interface Level {
  elevation_m: number;
  interval_m: Interval;
  slope_percent: number;
  fall_bearing_deg: number | null;
}

export interface Measure {
  feature: string;
  kind: string;
  code: string;
  length_m: number | null;
  length_m_interval: Interval;
  slope_length_m: number | null;
  slope_length_m_interval: Interval;
  area_m2: number | null;
  area_m2_interval: Interval;
  slope_area_m2: number | null;
  slope_area_m2_interval: Interval;
}

export interface Material {
  material: string;
  bank_m3: number | null;
  loose_m3: number | null;
  compacted_m3: number | null;
  loads: number;
}

export interface ElementVolume {
  element: string;
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
  uncovered_m2: number;
  cut_interval_m3: Interval;
  fill_interval_m3: Interval;
  net_interval_m3: Interval;
  strip_m3: number;
  materials: Material[];
}

export interface Volume {
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
  uncovered_m2: number;
  cut_interval_m3: Interval;
  fill_interval_m3: Interval;
  net_interval_m3: Interval;
  strip_m3: number;
  materials: Material[];
  elements?: ElementVolume[];
  cautions?: string[];
}

export interface BalanceWithBanks {
  level_m: number;
  cut_m3: number;
  fill_m3: number;
}

export interface Balance {
  element: string;
  level_m: number;
  cut_m3: number;
  fill_m3: number;
  with_banks?: BalanceWithBanks;
  warnings?: string[];
}

export interface Shape {
  elements: string[];
  faces: number[];
}

export interface Against {
  surface: string;
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
  uncovered_m2: number;
  cut_interval_m3: Interval;
  fill_interval_m3: Interval;
  net_interval_m3: Interval;
  deepest_cut_m: number;
  deepest_fill_m: number;
  materials: Material[];
}

export interface BankVolume {
  element: string;
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  area_m2: number;
}

export interface WithBanks {
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  cut_interval_m3?: Interval;
  fill_interval_m3?: Interval;
}

export interface Preview {
  cut_m3: number;
  fill_m3: number;
  net_m3: number;
  cut_area_m2?: number;
  fill_area_m2?: number;
  area_m2?: number;
  uncovered_m2?: number;
  cut_interval_m3?: Interval;
  fill_interval_m3?: Interval;
  net_interval_m3?: Interval;
  elements?: ElementVolume[];
  cautions?: string[];
  shape?: Shape;
  banks?: BankVolume[];
  with_banks?: WithBanks;
}

export interface Limit {
  least_percent: number;
  source: string;
  setting: string;
}

export interface LowSpot {
  easting_m: number;
  northing_m: number;
  bottom_m: number;
  spill_m: number;
  depth_m: number;
  depth_interval_m: Interval;
  area_m2: number;
  volume_m3: number;
  spill_easting_m: number;
  spill_northing_m: number;
  proven: boolean;
  sentence: string;
  wet?: Flat[];
  shore?: number[];
}

export interface Fall {
  feature: string;
  code: string;
  fall_percent: number;
  interval_percent: Interval;
  bearing_deg: number | null;
  covered_m2: number;
  limit: Limit | null;
  proven: boolean;
  verdict: string | null;
  sentence: string;
}

export interface Beside {
  feature: string;
  edge: number;
  fall_percent: number | null;
  interval_percent?: Interval;
  run_m?: number;
  towards: string;
  water_against_m2?: number;
  limit?: Limit | null;
  sentence: string;
}

export interface LineFall {
  element: string;
  kind: string;
  least_percent: number;
  steepest_percent: number;
  stands: boolean;
  sentence: string;
}

export interface Outfall {
  easting_m: number;
  northing_m: number;
  elevation_m: number;
  catchment_m2: number;
  sentence: string;
}

export interface LineFlow {
  element: string;
  kind: string;
  least_fall_percent: number;
  capacity_l_s: number;
  catchment_m2: number | null;
  inflow_l_s: number | null;
  serves_m2: number | null;
  enough: boolean | null;
  sentence: string;
}

export interface Drain {
  surface: string;
  warnings: string[];
  low_spots: LowSpot[];
  falls: Fall[];
  buildings: Beside[];
  outfalls: Outfall[];
  lines: LineFall[];
  rainfall_mm_h: number | null;
  flows?: LineFlow[];
  path?: Flat[];
  ways?: Flat[];
}

export interface GradeLevel {
  easting_m: number;
  northing_m: number;
  existing_m: number;
  level_m: number;
}

export interface Grade {
  met: boolean;
  conflict?: string[];
  cost?: number;
  cut_m3?: number;
  fill_m3?: number;
  import_m3?: number;
  cart_away_m3?: number;
  haul_m4?: number;
  exact_cut_m3?: number;
  exact_fill_m3?: number;
  levels?: GradeLevel[];
  triangles?: Flat[];
  applied?: string;
  revision?: number;
}

export interface HaulLine {
  from: string;
  to: string;
  bank_m3: number;
  loose_m3: number;
  distance_m: number;
  loads: number;
  cost: number | null;
}

export interface Haul {
  hauls: HaulLine[];
  reuse_bank_m3: number;
  cart_away_bank_m3: number;
  import_m3: number;
  loads_away: number;
  loads_in: number;
  cost: number | null;
}

export interface TakeoffLine {
  item: string;
  unit: string;
  net: number;
  waste_percent: number;
  gross: number;
  packs: number | null;
  pack_unit: string;
  spare: number | null;
  source: string[];
  interval: Interval;
  rate?: number | null;
  amount?: number | null;
  amount_interval?: Interval;
}

export interface Estimate {
  lines: TakeoffLine[];
  warnings: string[];
  cautions: string[];
  currency?: string;
  total?: number | null;
  total_interval?: Interval;
}

export interface Tie {
  from: string;
  distance_m: number;
}

export interface Polar {
  at: string;
  backsight: string;
  circle_deg: number;
  bearing_deg: number;
  distance_m: number;
}

export interface Offset {
  from: string;
  to: string;
  chainage_m: number;
  offset_m: number;
}

export interface Methods {
  ties?: Tie[];
  polar?: Polar;
  offsets?: Offset;
}

export interface Stake {
  stake: string;
  code: string;
  easting_m: number;
  northing_m: number;
  elevation_m: number | null;
  ground_m: number | null;
  cut_m: number | null;
  sd_m: number | null;
  methods: Methods;
  caution: string;
}

export interface FitResidual {
  point: string;
  de_m: number;
  dn_m: number;
}

export interface Fit {
  shift_e_m: number;
  shift_n_m: number;
  turn_deg: number;
  scale: number;
  residuals: FitResidual[];
  sentence: string;
}

export interface Setout {
  method: string;
  fit: Fit;
  stakes: Stake[];
  order: string[];
}

export interface Check {
  point: string;
  stake: string;
  de_m: number | null;
  dn_m: number | null;
  dz_m: number | null;
  distance_m: number | null;
  tolerance_m: number | null;
  sd_m: number | null;
  height_tolerance_m: number | null;
  height_sd_m: number | null;
  verdict: 'pass' | 'fail' | 'cannot tell';
  sentence: string;
}

export interface Proof {
  checks: Check[];
  pass: number;
  fail: number;
  cannot_tell: number;
}

export interface FallProof {
  from: string;
  to: string;
  measured: 'built' | 'survey' | 'ground';
  run_m: number;
  drop_m: number;
  fall_percent: number;
  sd_percent: number | null;
  interval_percent: Interval;
  least_percent: number;
  probability: number | null;
  verdict: 'proven' | 'likely, not proven' | 'cannot tell' | 'proven to miss';
  sentence: string;
}

export interface PlannedPoint {
  point: string;
  sd_easting_m: number | null;
  sd_northing_m: number | null;
  sd_elevation_m: number | null;
  ellipse: Ellipse | null;
  within_95_m: number | null;
  readings: number;
}

export interface PlannedFeature {
  feature: string;
  length_m: number | null;
  length_within_95_m: number | null;
  area_m2: number | null;
  area_within_95_m2: number | null;
}

export interface Advice {
  reading: string;
  from: string;
  to: string;
  gear: string;
  minutes: number | null;
  before: number | null;
  after: number | null;
  gain_per_minute: number | null;
}

export interface VisitPlan {
  page: string;
  points: PlannedPoint[];
  features: PlannedFeature[];
  added: Advice[];
  datum: string;
  undetermined: string[];
  undetermined_why: string[];
  aim_m: number | null;
  reached: boolean | null;
}

export interface Next {
  feature: string;
  figure: string;
  now: number;
  readings: Advice[];
}

export interface RoundMean {
  at: string;
  to: string;
  faces_left: number;
  faces_right: number;
  circle_deg: number | null;
  spread_deg: number | null;
  zenith_deg: number | null;
  two_c_deg: number | null;
  index_deg: number | null;
  slope_distance_m: number | null;
}

export interface Rounds {
  page: string;
  means: RoundMean[];
}

export interface TwoPeg {
  difference_m: number;
  error_mm_per_30_m: number;
  true_a_m: number;
  true_b_m: number;
}

export interface FrameResidual {
  point: string;
  de_m: number;
  dn_m: number;
  dh_m: number | null;
}

export interface VisitFit {
  from: string;
  to: string;
  residuals: FrameResidual[];
  turn_deg: number;
  scale: number;
  rms_m: number;
  shift_e_m: number | null;
  shift_n_m: number | null;
  shift_h_m: number | null;
  warnings: string[];
}

export interface LevelLine {
  point: string;
  row: number;
  backsight_m: number | null;
  intermediate_m: number | null;
  foresight_m: number | null;
  rise_m: number | null;
  fall_m: number | null;
  collimation_m: number | null;
  level_m: number | null;
  adjusted_m: number | null;
}

export interface LevelBook {
  page: string;
  lines: LevelLine[];
  sum_backsight_m: number;
  sum_foresight_m: number;
  sum_rise_m: number;
  sum_fall_m: number;
  misclosure_m: number | null;
  allowable_m: number | null;
  set_ups: number;
  arithmetic_ok: boolean;
  method: string;
}

export interface TraverseLeg {
  from: string;
  to: string;
  distance_m: number;
  bearing_deg: number;
  departure_m: number;
  latitude_m: number;
  balanced_departure_m: number;
  balanced_latitude_m: number;
  easting_m: number;
  northing_m: number;
}

export interface TraverseStation {
  station: string;
  angle_deg: number;
  balanced_deg: number;
}

export interface Traverse {
  page: string;
  stations?: TraverseStation[];
  angular_misclosure_deg?: number;
  angular_allowable_deg?: number;
  legs: TraverseLeg[];
  rule: string;
  departure_misclosure_m: number | null;
  latitude_misclosure_m: number | null;
  linear_misclosure_m: number | null;
  length_m: number | null;
  ratio: number | null;
  area_m2: number | null;
}

export interface Drawn {
  file: string;
  paper: string;
  scale: number;
}

export interface HandedOver {
  file: string;
  to: string;
  notes?: string[];
}

export interface Cloud {
  revision: number;
  points_read: number;
  points_wanted: number;
  points_thinned: number;
  points_kept: number;
  tolerance_m: number;
  largest_error_m: number | null;
  rms_error_m: number | null;
  points_beyond: number;
  cloud_notes: string[];
}

/** What each operation gives. */
export interface Operations {
  "site": Site;
  "gear": GearList;
  "adjust": Adjustment;
  "ground": Ground;
  "contours": Contours;
  "elevation": Level;
  "profile": Profile;
  "sections": Sections;
  "measure": Measure;
  "volume": Volume;
  "against": Against;
  "preview-volume": Preview;
  "balance": Balance;
  "drain": Drain;
  "grade": Grade;
  "haul": Haul;
  "takeoff": Estimate;
  "estimate": Estimate;
  "setout": Setout;
  "verify": Proof;
  "fall": FallProof;
  "plan-visit": VisitPlan;
  "next": Next;
  "history": History;
  "traverse": Traverse;
  "levels": LevelBook;
  "rounds": Rounds;
  "two-peg": TwoPeg;
  "fit-visits": VisitFit;
  "import": Done;
  "cloud": Cloud;
  "put-gear": Done;
  "add-reading": Done;
  "set-aside": Done;
  "remove-page": Done;
  "put-feature": Done;
  "remove-feature": Done;
  "put-setting": Done;
  "put-work": WorksDone;
  "remove-work": WorksDone;
  "works": WorksDone;
  "undo": Stepped;
  "redo": Stepped;
  "draw": Drawn;
  "export": HandedOver;
}

/** What each operation may be asked with. */
export interface Arguments {
  "site": Partial<Record<"with-ground" | "with-faces" | "with-finished", unknown>>;
  "gear": { readonly none?: never };
  "adjust": Partial<Record<"without-observations" | "touching", unknown>>;
  "ground": Partial<Record<"next" | "without-mean", unknown>>;
  "contours": Partial<Record<"interval", unknown>>;
  "elevation": Partial<Record<"easting" | "northing", unknown>>;
  "profile": Partial<Record<"along" | "from" | "to", unknown>>;
  "sections": Partial<Record<"along" | "from" | "to" | "spacing" | "width", unknown>>;
  "measure": Partial<Record<"feature", unknown>>;
  "volume": Partial<Record<"level" | "depth" | "in" | "from" | "to" | "element", unknown>>;
  "against": Partial<Record<"text" | "name" | "surface" | "in", unknown>>;
  "preview-volume": Partial<Record<"definition" | "whole" | "with-faces" | "quick", unknown>>;
  "balance": Partial<Record<"element" | "in" | "definition" | "elements" | "by", unknown>>;
  "drain": Partial<Record<"finished" | "from" | "drawn" | "definition" | "rainfall" | "runoff", unknown>>;
  "grade": Partial<Record<"definition" | "text" | "name" | "apply", unknown>>;
  "haul": Partial<Record<"haul" | "import" | "cart-away", unknown>>;
  "takeoff": { readonly none?: never };
  "estimate": { readonly none?: never };
  "setout": Partial<Record<"at" | "backsight" | "from" | "to" | "origin" | "direction", unknown>>;
  "verify": { readonly none?: never };
  "fall": Partial<Record<"from" | "to" | "least" | "gear" | "text" | "name", unknown>>;
  "plan-visit": Partial<Record<"text" | "name" | "aim", unknown>>;
  "next": Partial<Record<"for", unknown>>;
  "history": { readonly none?: never };
  "traverse": Partial<Record<"page" | "rule", unknown>>;
  "levels": Partial<Record<"page" | "method", unknown>>;
  "rounds": Partial<Record<"page", unknown>>;
  "two-peg": Partial<Record<"mid-a" | "mid-b" | "near-a" | "near-b" | "to-a" | "to-b", unknown>>;
  "fit-visits": Partial<Record<"from" | "to" | "free-scale" | "in-space", unknown>>;
  "import": Partial<Record<"page" | "name" | "visit" | "gear" | "frame" | "text", unknown>>;
  "cloud": Partial<Record<"path" | "tolerance" | "classes" | "find-ground" | "unit" | "height-unit" | "columns" | "visit" | "frame" | "gear", unknown>>;
  "put-gear": Partial<Record<"name" | "like" | "source" | "distance_m" | "distance_ppm" | "angle_rad" | "zenith_rad" | "centring_m" | "plan_m" | "height_m" | "staff_m" | "levelled_km_m" | "leg_m", unknown>>;
  "add-reading": Partial<Record<"page_id" | "record", unknown>>;
  "set-aside": Partial<Record<"reading_id" | "reason" | "take-back" | "page" | "row", unknown>>;
  "remove-page": Partial<Record<"page_id", unknown>>;
  "put-feature": Partial<Record<"name" | "code" | "kind" | "role" | "points", unknown>>;
  "remove-feature": Partial<Record<"name", unknown>>;
  "put-setting": Partial<Record<"key" | "value", unknown>>;
  "put-work": Partial<Record<"definition", unknown>>;
  "remove-work": Partial<Record<"name", unknown>>;
  "works": Partial<Record<"text" | "name", unknown>>;
  "undo": { readonly none?: never };
  "redo": { readonly none?: never };
  "draw": Partial<Record<"sheet" | "scale" | "paper" | "stakes" | "output", unknown>>;
  "export": Partial<Record<"to" | "output", unknown>>;
}
