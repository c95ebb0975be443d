// Backward Monte Carlo of a striped plate in a tub of murky water, seen from above.
//
// Lengths in mm. The water fills 0 < z < depth (z downward), |x| < width / 2, 0 < y < length; the
// plate stands at y = 0; walls and bottom are diffuse; the walls go on above the water up to the
// rim. The surface is flat and refracts by Fresnel's equations. A path starts at the surface on the
// line of sight to a point of the plate. It carries four weights at once: plate with stripes of 3
// and of 8 mm, the middle of a white and of a black stripe at the point looked at. Paths that
// never meet the plate weigh the same in all four, so that their noise cancels in the contrast.
//
// Lights: 0 is a uniform sky of irradiance 1 on a level plane; 1 to LAMPS are distant lamps of
// irradiance 1 on a plane across their rays, sampled at every event. The result is radiance just
// under the surface towards the camera, in units of the radiance in air (divided by n squared).
//
// Compiles by nvcc, and by a C++ compiler for the processor.

#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <vector>

#ifdef __CUDACC__
#define DEVICE __device__ __forceinline__
#else
#define DEVICE inline
inline float rsqrtf(float x) { return 1.f / std::sqrt(x); }
#endif

constexpr int DEPTHS = 14, LAMPS = 4, LIGHTS = 1 + LAMPS, PATTERNS = 4, BATCHES = 8;
constexpr int SUMS = PATTERNS * LIGHTS;
constexpr float INDEX = 1.333f, PI = 3.14159265f;
constexpr float PLATE_HALF_MM = 52.f, PLATE_DEPTH_MM = 175.f, PLATE_RISE_MM = 90.f;
constexpr float LEAST_WEIGHT = 0.03f;

struct Tub {
  float attenuation_per_mm, albedo, g_forward, g_backward, backward_share;
  float wall, width_mm, length_mm, depth_mm, rim_mm, white, black, dry_black;
  float sight_cos, azimuth_rad;
  float points_mm[DEPTHS];
  float lamps[LAMPS][3];  // unit vectors in air towards the lamp, z up
};

struct Vec { float x, y, z; };

struct Random {
  uint64_t state, step;
  DEVICE float next() {  // O'Neill 2014, PCG-XSH-RR
    uint64_t old = state;
    state = old * 6364136223846793005ULL + step;
    uint32_t mixed = (uint32_t)(((old >> 18u) ^ old) >> 27u), turn = (uint32_t)(old >> 59u);
    uint32_t bits = (mixed >> turn) | (mixed << ((-turn) & 31));
    return ((bits >> 8) + 0.5f) * (1.f / 16777216.f);
  }
};

DEVICE float reflectance(float cos_in, float ratio) {  // ratio: index of this side over the other
  float sin2 = ratio * ratio * (1.f - cos_in * cos_in);
  if (sin2 >= 1.f) return 1.f;
  float cos_out = sqrtf(1.f - sin2);
  float across = (ratio * cos_in - cos_out) / (ratio * cos_in + cos_out);
  float along = (cos_in - ratio * cos_out) / (cos_in + ratio * cos_out);
  return 0.5f * (across * across + along * along);
}

DEVICE float henyey(float g, float cosine) {
  float below = 1.f + g * g - 2.f * g * cosine;
  return (1.f - g * g) / (4.f * PI * below * sqrtf(below));
}

DEVICE float phase(const Tub& tub, float cosine) {
  return (1.f - tub.backward_share) * henyey(tub.g_forward, cosine) +
         tub.backward_share * henyey(tub.g_backward, cosine);
}

DEVICE Vec turned(Vec d, float cosine, float angle) {
  float sine = sqrtf(fmaxf(0.f, 1.f - cosine * cosine)), c = cosf(angle), s = sinf(angle);
  float level = sqrtf(fmaxf(0.f, 1.f - d.z * d.z));
  if (level < 1e-4f) return {sine * c, sine * s, d.z > 0 ? cosine : -cosine};
  Vec to = {sine * (d.x * d.z * c - d.y * s) / level + d.x * cosine,
            sine * (d.y * d.z * c + d.x * s) / level + d.y * cosine,
            -sine * c * level + d.z * cosine};
  float length = rsqrtf(to.x * to.x + to.y * to.y + to.z * to.z);
  return {to.x * length, to.y * length, to.z * length};
}

DEVICE Vec scattered(const Tub& tub, Vec d, Random& random) {
  float g = random.next() < tub.backward_share ? tub.g_backward : tub.g_forward;
  float u = random.next(), cosine;
  if (fabsf(g) < 1e-3f) {
    cosine = 2.f * u - 1.f;
  } else {
    float part = (1.f - g * g) / (1.f - g + 2.f * g * u);
    cosine = (1.f + g * g - part * part) / (2.f * g);
  }
  return turned(d, fminf(1.f, fmaxf(-1.f, cosine)), 2.f * PI * random.next());
}

DEVICE Vec diffuse(Vec normal, Random& random) {
  return turned(normal, sqrtf(random.next()), 2.f * PI * random.next());
}

// Whether a distant lamp reaches a place in the air above the water, z up from the surface.
DEVICE bool lamp_seen(const Tub& tub, float x, float y, float z, const float* lamp) {
  float climb = fmaxf(0.f, tub.rim_mm - z) / fmaxf(lamp[2], 1e-3f);
  float at_x = x + climb * lamp[0], at_y = y + climb * lamp[1];
  if (fabsf(at_x) > tub.width_mm / 2 || at_y < 0.f || at_y > tub.length_mm) return false;
  if (lamp[1] >= 0.f) return true;
  float reach = -y / lamp[1];
  return fabsf(x + reach * lamp[0]) > PLATE_HALF_MM || z + reach * lamp[2] > PLATE_RISE_MM;
}

// Irradiance across a lamp's rays at a place in the water, and the way to the lamp there.
DEVICE float lamp_below(const Tub& tub, Vec at, const float* lamp, Vec& way) {
  way = {lamp[0] / INDEX, lamp[1] / INDEX, 0.f};
  float cos_water = sqrtf(1.f - way.x * way.x - way.y * way.y);
  way.z = -cos_water;
  float path = at.z / cos_water, x = at.x + path * way.x, y = at.y + path * way.y;
  if (fabsf(x) > tub.width_mm / 2 || y < 0.f || y > tub.length_mm) return 0.f;
  if (!lamp_seen(tub, x, y, 0.f, lamp)) return 0.f;
  float through = 1.f - reflectance(lamp[2], 1.f / INDEX);
  return through * lamp[2] / cos_water * expf(-tub.attenuation_per_mm * path);
}

DEVICE void gather(float* sums, const float* plate, int light, float amount) {
  for (int k = 0; k < PATTERNS; k++) sums[k * LIGHTS + light] += plate[k] * amount;
}

DEVICE void lamps_on_matt(const Tub& tub, Vec at, Vec normal, const float* plate, float weight,
                          float* sums) {
  for (int k = 0; k < LAMPS; k++) {
    Vec way;
    float arrives = lamp_below(tub, at, tub.lamps[k], way);
    float cosine = way.x * normal.x + way.y * normal.y + way.z * normal.z;
    if (arrives > 0.f && cosine > 0.f)
      gather(sums, plate, 1 + k, weight * arrives * cosine / (PI * INDEX * INDEX));
  }
}

// Follow a path in the air within the rim, z up. True when it comes back to the water.
DEVICE bool above_water(const Tub& tub, Vec& at, Vec& d, float& weight, const float* plate,
                        float* sums, Random& random) {
  for (int bounce = 0; bounce < 20; bounce++) {
    float best = d.z > 0 ? (tub.rim_mm - at.z) / d.z : -at.z / d.z;
    int face = d.z > 0 ? 0 : 1;
    float to_x = d.x != 0 ? ((d.x > 0 ? tub.width_mm / 2 : -tub.width_mm / 2) - at.x) / d.x : 1e9f;
    float to_y = d.y != 0 ? ((d.y > 0 ? tub.length_mm : 0.f) - at.y) / d.y : 1e9f;
    if (to_x < best) { best = to_x; face = 2; }
    if (to_y < best) { best = to_y; face = 3; }
    at = {at.x + best * d.x, at.y + best * d.y, at.z + best * d.z};
    if (face == 1) { at.z = 0.f; return true; }
    if (face == 0) {
      float reach = d.y < 0.f ? -at.y / d.y : 1e9f;
      bool blocked = fabsf(at.x + reach * d.x) < PLATE_HALF_MM &&
                     at.z + reach * d.z < PLATE_RISE_MM;
      gather(sums, plate, 0, weight * (blocked ? tub.dry_black : 1.f) / PI);
      return false;
    }
    bool on_plate = face == 3 && d.y < 0.f && fabsf(at.x) < PLATE_HALF_MM;
    Vec normal = face == 2 ? Vec{d.x > 0 ? -1.f : 1.f, 0, 0} : Vec{0, d.y > 0 ? -1.f : 1.f, 0};
    weight *= on_plate ? tub.dry_black : tub.wall;
    for (int k = 0; k < LAMPS; k++) {
      const float* lamp = tub.lamps[k];
      float cosine = lamp[0] * normal.x + lamp[1] * normal.y;
      if (cosine > 0.f && lamp_seen(tub, at.x + 0.01f * normal.x, at.y + 0.01f * normal.y, at.z, lamp))
        gather(sums, plate, 1 + k, weight * cosine / PI);
    }
    if (weight < LEAST_WEIGHT) {
      if (random.next() < 0.5f) return false;
      weight *= 2.f;
    }
    d = diffuse(normal, random);
  }
  return false;
}

DEVICE void stripe_weights(const Tub& tub, float x, float* plate) {
  bool fine = cosf(PI * x / 3.f) > 0.f, coarse = cosf(PI * x / 8.f) > 0.f;
  plate[0] *= fine ? tub.white : tub.black;
  plate[1] *= fine ? tub.black : tub.white;
  plate[2] *= coarse ? tub.white : tub.black;
  plate[3] *= coarse ? tub.black : tub.white;
}

// Every other path goes straight to the plate, the rest meet a particle first.
DEVICE void trace(const Tub& tub, float point_mm, bool direct, Random& random, float* sums) {
  float sine = sqrtf(1.f - tub.sight_cos * tub.sight_cos);
  Vec d = {sinf(tub.azimuth_rad) * sine, -cosf(tub.azimuth_rad) * sine, tub.sight_cos};
  float path = point_mm / tub.sight_cos, aim = (random.next() - 0.5f) * 1.5f;
  Vec at = {aim - path * d.x, -path * d.y, 0.f};
  float plate[PATTERNS] = {1.f, 1.f, 1.f, 1.f}, weight = 1.f;
  float c = tub.attenuation_per_mm, clear = expf(-c * path);
  float step = direct ? 2.f * path : -logf(1.f - random.next() * (1.f - clear)) / c;
  weight = 2.f * (direct ? clear : 1.f - clear);
  for (int event = 0; event < 3000; event++) {
    float best = step;
    int face = 0;
    float to_x = d.x != 0 ? ((d.x > 0 ? tub.width_mm / 2 : -tub.width_mm / 2) - at.x) / d.x : 1e9f;
    float to_y = d.y != 0 ? ((d.y > 0 ? tub.length_mm : 0.f) - at.y) / d.y : 1e9f;
    float to_z = d.z != 0 ? ((d.z > 0 ? tub.depth_mm : 0.f) - at.z) / d.z : 1e9f;
    if (to_x < best) { best = to_x; face = 1; }
    if (to_y < best) { best = to_y; face = 2; }
    if (to_z < best) { best = to_z; face = 3; }
    best = fmaxf(best, 0.f);
    at = {at.x + best * d.x, at.y + best * d.y, at.z + best * d.z};
    if (face == 0) {
      weight *= tub.albedo;
      for (int k = 0; k < LAMPS; k++) {
        Vec way;
        float arrives = lamp_below(tub, at, tub.lamps[k], way);
        if (arrives > 0.f) {
          float cosine = way.x * d.x + way.y * d.y + way.z * d.z;
          gather(sums, plate, 1 + k, weight * arrives * phase(tub, cosine) / (INDEX * INDEX));
        }
      }
      d = scattered(tub, d, random);
    } else if (face == 3 && d.z < 0.f) {
      at.z = 0.f;
      if (random.next() < reflectance(-d.z, INDEX)) {
        d.z = -d.z;
      } else {
        Vec out = {d.x * INDEX, d.y * INDEX, 0.f}, place = {at.x, at.y, 0.f};
        out.z = sqrtf(fmaxf(1e-8f, 1.f - out.x * out.x - out.y * out.y));
        while (true) {
          if (!above_water(tub, place, out, weight, plate, sums, random)) return;
          if (random.next() >= reflectance(-out.z, 1.f / INDEX)) break;
          out.z = -out.z;
        }
        d = {out.x / INDEX, out.y / INDEX, 0.f};
        d.z = sqrtf(1.f - d.x * d.x - d.y * d.y);
        at = {place.x, place.y, 0.f};
      }
    } else {
      bool on_plate = face == 2 && d.y < 0.f && fabsf(at.x) < PLATE_HALF_MM &&
                      at.z < PLATE_DEPTH_MM;
      if (on_plate) stripe_weights(tub, at.x, plate);
      else weight *= tub.wall;
      Vec normal = face == 1   ? Vec{d.x > 0 ? -1.f : 1.f, 0, 0}
                   : face == 2 ? Vec{0, d.y > 0 ? -1.f : 1.f, 0}
                               : Vec{0, 0, -1.f};
      lamps_on_matt(tub, at, normal, plate, weight, sums);
      d = diffuse(normal, random);
    }
    float largest = fmaxf(fmaxf(plate[0], plate[1]), fmaxf(plate[2], plate[3]));
    if (weight * largest < LEAST_WEIGHT) {
      if (random.next() < 0.5f) return;
      weight *= 2.f;
    }
    step = -logf(random.next()) / c;
  }
}

DEVICE Random seeded(uint64_t stream) {
  Random random = {0, (stream << 1) | 1};
  random.next();
  random.state += 0x853c49e6748fea9bULL ^ (stream * 0x9E3779B97F4A7C15ULL);
  random.next();
  return random;
}

#ifdef __CUDACC__
__global__ void run(const Tub* tubs, int paths, float* means) {
  __shared__ float totals[BATCHES][SUMS];
  int tub = blockIdx.x / DEPTHS, point = blockIdx.x % DEPTHS;
  for (int k = threadIdx.x; k < BATCHES * SUMS; k += blockDim.x) totals[k / SUMS][k % SUMS] = 0.f;
  __syncthreads();
  Random random = seeded((uint64_t)blockIdx.x * blockDim.x + threadIdx.x + 1);
  float sums[SUMS] = {};
  int mine = paths / blockDim.x;
  for (int n = 0; n < mine; n++) trace(tubs[tub], tubs[tub].points_mm[point], n % 2 == 0, random, sums);
  int batch = threadIdx.x * BATCHES / blockDim.x;
  float each = (float)mine * blockDim.x / BATCHES;
  for (int k = 0; k < SUMS; k++) atomicAdd(&totals[batch][k], sums[k] / each);
  __syncthreads();
  float* to = means + (size_t)blockIdx.x * BATCHES * SUMS;
  for (int k = threadIdx.x; k < BATCHES * SUMS; k += blockDim.x) to[k] = totals[k / SUMS][k % SUMS];
}

static void run_all(const std::vector<Tub>& tubs, int paths, std::vector<float>& means) {
  Tub* there;
  float* back;
  cudaMalloc(&there, tubs.size() * sizeof(Tub));
  cudaMalloc(&back, means.size() * sizeof(float));
  cudaMemcpy(there, tubs.data(), tubs.size() * sizeof(Tub), cudaMemcpyHostToDevice);
  run<<<(unsigned)(tubs.size() * DEPTHS), 256>>>(there, paths, back);
  cudaMemcpy(means.data(), back, means.size() * sizeof(float), cudaMemcpyDeviceToHost);
  cudaError_t fault = cudaGetLastError();
  if (fault != cudaSuccess) {
    fprintf(stderr, "%s\n", cudaGetErrorString(fault));
    exit(1);
  }
}
#else
static void run_all(const std::vector<Tub>& tubs, int paths, std::vector<float>& means) {
  for (size_t tub = 0; tub < tubs.size(); tub++)
    for (int point = 0; point < DEPTHS; point++)
      for (int batch = 0; batch < BATCHES; batch++) {
        size_t place = (tub * DEPTHS + point) * BATCHES + batch;
        Random random = seeded(place + 1);
        float sums[SUMS] = {};
        int mine = paths / BATCHES;
        for (int n = 0; n < mine; n++) trace(tubs[tub], tubs[tub].points_mm[point], n % 2 == 0, random, sums);
        for (int k = 0; k < SUMS; k++) means[place * SUMS + k] = sums[k] / mine;
      }
}
#endif

// tub IN OUT PATHS: IN holds tubs, OUT gets float32 [tub][point][batch][pattern][light].
int main(int, char** words) {
  FILE* in = fopen(words[1], "rb");
  std::vector<Tub> tubs;
  Tub one;
  while (in && fread(&one, sizeof one, 1, in) == 1) tubs.push_back(one);
  std::vector<float> means(tubs.size() * DEPTHS * BATCHES * SUMS);
  run_all(tubs, atoi(words[3]), means);
  FILE* out = fopen(words[2], "wb");
  size_t written = fwrite(means.data(), sizeof(float), means.size(), out);
  fclose(out);
  return written == means.size() ? 0 : 1;
}
