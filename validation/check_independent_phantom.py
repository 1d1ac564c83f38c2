#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Is the independent phantom itself right? TAP output.

  straight tube      against the closed form: chord = 2 sqrt(r^2 - x^2) / sin(angle between ray and axis)
  union of limbs     against brute force: every ray marched in 0.01 mm steps, inside = nearer to an axis than r
  centre and area    the rendered attenuation, summed across the vessel, has its centre of mass on the axis of the
                     truth, and its integral is mu * pi/4 d^2 / sin(angle), whatever the shape of the profile
  occlusion          no attenuation on the axis in the gap, and all of it where the lumen is open
  projection         worked vector of the C-arm geometry (PS3.3 C.8.7.5): LAO 90 looks along +x
"""
import sys

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

import independent_phantom as ph

failures = 0
count = 0


def report(ok, what):
    global failures, count
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}")


def straight_tube():
    view = ph.View(20.0, 15.0, 1000.0, 750.0, 0.25, 128)
    s = np.arange(-15, 15, ph.STEP_MM)
    worst = 0.0
    for tilt in (0.0, 0.3):
        axis = view.in_patient(np.cos(tilt) * s, 0 * s, np.sin(tilt) * s)
        for d in (0.5, 1.0, 3.0):
            got = ph.attenuation_of_union([ph.Tube(axis, np.full(len(s), d / 2), np.ones(len(s)))], view, 4)
            y, x = np.mgrid[0:512, 0:512]
            x, y = (x.ravel() + 0.5) / 4 - 0.5, (y.ravel() + 0.5) / 4 - 0.5
            rays = view.rays(x, y)
            t = axis[-1] - axis[0]
            t /= np.linalg.norm(t)
            across = np.cross(rays, t)
            sine = np.linalg.norm(across, axis=1)
            gap = np.abs(np.einsum("ij,j->i", across, axis[0] - view.source)) / sine
            want = 2 * np.sqrt(np.maximum(d * d / 4 - gap ** 2, 0)) / sine
            inner = (np.abs(x - view.centre_px) < 40)
            worst = max(worst, np.abs(got.ravel() - want)[inner].max())
    report(worst < 1e-3, f"straight tubes agree with the closed form (worst {worst:.1e} mm)")


def bifurcation(seed, lesion_mm=ph.LESION_MM):
    rng = np.random.default_rng(seed)
    view = ph.draw_view(rng, 512)
    while True:
        limbs, where, _ = ph.draw_bifurcation(rng, view, 0.15, lesion_mm)
        if ph.acceptable(limbs, view):
            return rng, view, limbs, where


def brute_force(what, seeds, lesion_mm):
    differences = []
    for seed in seeds:
        rng, view, limbs, where = bifurcation(seed, lesion_mm)
        tubes = [limb["tube"] for limb in limbs.values()]
        for tube in tubes:
            tube.mu = np.ones(len(tube.radius))
        image = ph.attenuation_of_union(tubes, view, 1)
        rows, cols = np.nonzero(image > 0)
        near = np.hypot(cols - view.project(where[None])[0, 0], rows - view.project(where[None])[0, 1]) < 110
        pick = rng.choice(np.nonzero(near)[0], 250, replace=False)
        rays = view.rays(cols[pick].astype(float), rows[pick].astype(float))
        t = np.arange(view.sod_mm - 45, view.sod_mm + 45, 0.01)
        length = np.zeros(len(pick))
        trees = [cKDTree(tube.axis) for tube in tubes]
        for i, ray in enumerate(rays):
            points = view.source + t[:, None] * ray
            inside = np.zeros(len(t), bool)
            for tube, tree in zip(tubes, trees):
                index = tube.foot(points, tree.query(points, distance_upper_bound=6.0)[1].clip(
                    0, len(tube.radius) - 1).astype(float))
                inside |= np.linalg.norm(points - tube.at(tube.axis, index), axis=1) < tube.at(tube.radius, index)
            length[i] = inside.sum() * 0.01
        differences.append(image[rows[pick], cols[pick]] - length)
    d = np.concatenate(differences)
    report(np.sqrt(np.mean(d ** 2)) < 0.01 and np.quantile(np.abs(d), 0.99) < 0.03,
           f"{what}: union of limbs agrees with brute force ({len(d)} rays, RMS {np.sqrt(np.mean(d ** 2)):.4f} mm, "
           f"99 % within {np.quantile(np.abs(d), 0.99):.3f}, worst {np.abs(d).max():.3f})")


def centre_and_area():
    off, area = [], []
    for seed in range(10, 18):
        rng, view, limbs, where = bifurcation(seed)
        truth = ph.truth_of(limbs, view, where, rng)
        over = 4
        for name, limb in limbs.items():
            tube = limb["tube"]
            dark = ph.attenuation_of_union([tube], view, over)
            p = {k: np.array(v) for k, v in truth["segments"][name]["profile"].items()}
            slope = np.stack([np.gradient(p["x_px"]), np.gradient(p["y_px"])])
            slope /= np.linalg.norm(slope, axis=0)
            wide = np.arange(-3.5, 3.5, 0.02)
            chosen = np.nonzero(np.abs(np.gradient(p["diameter_mm"], p["position_mm"])) < 0.15)[0]
            for k in chosen[(chosen > 20)][::12]:
                step = wide / p["mm_per_px"][k]
                x, y = p["x_px"][k] - slope[1, k] * step, p["y_px"][k] + slope[0, k] * step
                line = ndimage.map_coordinates(dark, [(y + 0.5) * over - 0.5, (x + 0.5) * over - 0.5], order=1)
                at = np.argmin(np.hypot(*(view.project(tube.axis) - [p["x_px"][k], p["y_px"][k]]).T))
                ray = view.rays(p["x_px"][[k]], p["y_px"][[k]])[0]
                sine = np.sqrt(1 - (ray @ tube.tangent[at]) ** 2)
                off.append((line * wide).sum() / line.sum())
                # the projected line runs across the vessel, so the integral is over the true width
                area.append(line.sum() * 0.02 * sine / tube.mu[at] / (np.pi / 4 * p["diameter_mm"][k] ** 2) - 1)
    off, area = np.array(off), np.array(area)
    report(abs(off.mean()) < 0.004 and off.std() < 0.02,
           f"centre of mass lies on the axis of the truth ({len(off)} places, {off.mean():+.4f} +- {off.std():.4f} mm)")
    report(abs(area.mean()) < 0.01 and area.std() < 0.02,
           f"integral across the vessel is the area ({100 * area.mean():+.2f} +- {100 * area.std():.2f} %)")


def occlusion():
    """The axis in the gap lies over no lumen of its own limb; before the stop it does."""
    inside, outside = [], []
    for seed in range(8):
        _, view, limbs, _ = bifurcation(seed)
        facts = ph.draw_occlusion(seed, limbs)
        limb = limbs[facts["limb"]]
        dark = ph.attenuation_of_union(limb["parts"], view, 4)
        ball = limb["tube"].radius.max()
        stop, end = facts["stop_axis_mm"], facts["refill_axis_mm"] or facts["stop_axis_mm"] + 12
        for mm, to in ((0.5 * stop, inside), (stop + ball + 0.3, outside), (end - ball - 0.3, outside)):
            if to is outside and not stop + ball < mm < end - ball:
                continue                             # the gap is shorter than its two round ends
            x, y = view.project(limb["tube"].axis[[int(mm / ph.STEP_MM)]])[0]
            to.append(ndimage.map_coordinates(dark, [[(y + 0.5) * 4 - 0.5], [(x + 0.5) * 4 - 0.5]], order=1)[0])
    report(len(inside) == 8 and min(inside) > 0.02 and len(outside) >= 8 and max(outside) == 0,
           f"occlusions: least {min(inside):.3f} before the stop, most {max(outside):.3f} in the gap ({len(outside)} places)")


def worked_vector():
    left = ph.View(90.0, 0.0, 1000.0, 750.0, 0.2, 512)
    p = left.project(np.array([[0.0, 10.0, 20.0]]))[0] - left.centre_px
    # seen from the left side of the chest: back is to the right of the picture, head is up
    scale = 1000.0 / 750.0 / 0.2
    report(np.allclose(left.beam, [1, 0, 0]) and np.allclose(p, [10 * scale, -20 * scale]),
           "LAO 90: detector at the left of the patient, back to the right, head up")


def main():
    print("TAP version 13")
    worked_vector()
    straight_tube()
    brute_force("lesions of 4-14 mm", (1, 2, 3), ph.LESION_MM)
    brute_force("lesions of 3 mm", (4, 5, 6), (3.0, 3.0))
    centre_and_area()
    occlusion()
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
